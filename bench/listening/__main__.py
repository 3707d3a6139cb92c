"""All tables; `python -m bench.listening onsets`, `alignment` or `drums` prints one alone."""

import sys

from bench.listening import alignment_table, drum_table, onset_table

_TABLES = {"onsets": onset_table.main, "alignment": alignment_table.main, "drums": drum_table.main}

for name in sys.argv[1:] or _TABLES:
    _TABLES[name]()
