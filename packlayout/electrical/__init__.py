"""Electrics: what the pack is, what protects it, and where its cables and hoses run."""
