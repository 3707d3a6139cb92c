"""The outputs of the ear, by row."""

from __future__ import annotations

CLASSES = ("kick", "snare", "rim", "tom", "hi-hat", "open hi-hat", "crash", "ride", "not a drum")
"""Classes of a stroke. Toms are one class: which tom is high and which is low depends on the kit."""

ANY_ROW = len(CLASSES)
"""Row of the log odds that any drum is struck; the rows before it are those of the classes."""

OFFSET_ROW = ANY_ROW + 1
"""Row of the attack's time after the frame, in frames."""

PITCH_ROW = ANY_ROW + 2
"""Row of a tom's pitch, in octaves above 100 Hz."""

PRINT_ROW = ANY_ROW + 3
"""First row of the voice print."""

PRINT_SIZE = 16
"""Numbers of a voice print: strokes on one drum of a take have similar ones."""

ROWS = PRINT_ROW + PRINT_SIZE
"""Number of rows."""
