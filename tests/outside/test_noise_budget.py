"""How long a day's noise may last.

Source: NIOSH 98-126 (Criteria for a Recommended Standard: Occupational Noise Exposure, table 1-1; from memory)
"""

import pytest

from fillwright.store.planning.noise import compute_minutes_at

TABLE = {
    85: 480,
    86: 381,
    88: 240,
    90: 151,
    91: 120,
    94: 60,
    95: 47.62,
    97: 30,
    100: 15,
    103: 7.5,
    106: 3.75,
    110: 1.4833,
}


@pytest.mark.parametrize(("level", "minutes"), TABLE.items())
def test_the_budget_is_that_of_the_table(level: int, minutes: float) -> None:
    assert compute_minutes_at(level) == pytest.approx(
        minutes, rel=0.012
    )  # the table cuts to whole minutes or seconds
