"""One budget: each check refuses one more than its limit, in one sentence."""

import math

import pytest

from fillwright import budget
from fillwright.errors import FillwrightError, TakeError


def test_a_size_at_the_limit_is_accepted_and_one_byte_more_is_not():
    budget.check_bytes('"a"', 256_000, 256_000)
    with pytest.raises(TakeError, match=r'^"a" is larger than 256 kB, the most that is accepted.$'):
        budget.check_bytes('"a"', 256_001, 256_000, error=TakeError)


def test_a_number_at_the_limit_is_accepted_and_one_more_is_not():
    budget.check_count('"a"', 8_000, 8_000, "drum notes")
    with pytest.raises(FillwrightError, match=r'^"a" has 8,001 drum notes; use at most 8,000.$'):
        budget.check_count('"a"', 8_001, 8_000, "drum notes")


@pytest.mark.parametrize(("seconds", "words"), [(1_000, "17 minutes"), (math.nan, "without end")])
def test_a_duration_past_the_limit_is_refused(seconds, words):
    budget.check_seconds('"a"', 900, 900)
    with pytest.raises(FillwrightError, match=f'^"a" lasts {words}; at most 15 minutes are accepted'):
        budget.check_seconds('"a"', seconds, 900)


def test_deep_nesting_is_refused():
    budget.check_nesting('"a"', 8, 8)
    with pytest.raises(FillwrightError, match=r'^"a" is nested more than 8 deep'):
        budget.check_nesting('"a"', 9, 8)


def test_a_file_is_read_up_to_its_limit(tmp_path):
    (tmp_path / "a").write_bytes(b"x" * 10)
    assert budget.read_limited(tmp_path / "a", 10) == b"x" * 10
    with pytest.raises(FillwrightError, match=r'a" is larger than 9 bytes'):
        budget.read_limited(tmp_path / "a", 9)


def test_an_endless_file_is_refused(tmp_path):
    (tmp_path / "a").symlink_to("/dev/zero")
    with pytest.raises(FillwrightError, match=r"is larger than 1 MB"):
        budget.read_limited(tmp_path / "a", 1_000_000)


def test_a_missing_file_is_reported(tmp_path):
    with pytest.raises(FillwrightError, match=r"b\" can't be read: no such file or directory.$"):
        budget.read_limited(tmp_path / "b", 9)
