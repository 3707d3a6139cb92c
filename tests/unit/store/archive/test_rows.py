import pytest

from fillwright.errors import StoreError
from fillwright.store.archive.rows import KeyOrder, decode_row, list_tables, make_decoder
from fillwright.store.schema import account, practice, setting, teacher


def test_every_table_has_a_schema():
    assert all(make_decoder(table) for table in list_tables())


def test_columns_that_may_be_empty_or_have_a_default_may_be_missing():
    line = b'{"id": 1, "login": "a", "password": "b", "role": "teacher", "teacher_id": 1}'
    row = decode_row(account, line)
    assert (row["student_id"], row["epoch"]) == (None, 0)
    with pytest.raises(StoreError):
        decode_row(account, line.replace(b'"login": "a", ', b""))


def test_numbers_of_minutes_may_be_whole():
    line = b'{"id": 1, "student_id": 1, "fill": "", "at": "2026-03-02T16:00:00+00:00", "minutes": 25}'
    assert decode_row(practice, line)["minutes"] == 25


@pytest.mark.parametrize("value", [b"1e999", b"NaN", b"1" + b"0" * 5_000, b'"\\ud800"'])
def test_values_that_json_does_not_have_are_refused(value):
    with pytest.raises(StoreError):
        decode_row(setting, b'{"teacher_id": 1, "name": "a", "value": %s}' % value)


def test_the_order_of_one_key_and_of_two():
    one, two = KeyOrder(teacher), KeyOrder(setting)
    assert [one.accept({"id": number}) for number in (1, 3, 3, 2)] == [True, True, False, False]
    keys = [(1, "b"), (1, "a"), (1, "b"), (2, "a"), (1, "c")]
    rows = [{"teacher_id": number, "name": name} for number, name in keys]
    assert [two.accept(row) for row in rows] == [True, True, False, True, False]
