"""The ears and the matching, one after the other; `python -m bench.listening matching` runs one alone."""

import sys

from bench.listening import detector, table

_PARTS = {"detector": detector.main, "matching": table.main}

for name in sys.argv[1:] or _PARTS:
    _PARTS[name]()
