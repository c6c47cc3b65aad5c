"""Placement: where each part stands. `place` is the only door."""
