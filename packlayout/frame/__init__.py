"""The welded tube frame that carries the pack: cradles, legs, foot plates, and what is judged of them."""
