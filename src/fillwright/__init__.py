"""Fillwright: every drum fill that a lesson implies, written, checked, engraved, played and printed."""

__version__ = "0.1.0"
