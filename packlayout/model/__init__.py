"""The nouns: frozen records of what can be bought, what was measured, what is wanted and what was decided.

No algorithms here. Input records are pydantic models, so that the same declaration reads a file,
checks it and writes its JSON Schema; geometry and results are frozen slotted dataclasses.
"""
