"""The training is a program next to the tests; it is not installed."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
