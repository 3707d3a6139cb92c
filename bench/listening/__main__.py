"""Both tables; `python -m bench.listening onsets` or `alignment` prints one alone."""

import sys

from bench.listening import alignment_table, onset_table

_TABLES = {"onsets": onset_table.main, "alignment": alignment_table.main}

for name in sys.argv[1:] or _TABLES:
    _TABLES[name]()
