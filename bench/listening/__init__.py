"""Benches of the onset detection and the alignment, on takes whose truth is known."""
