"""A value written to a cell reads back as the very same value, whatever it is."""

import math
from datetime import UTC

from hypothesis import given
from hypothesis import strategies as st

from fleet.exchange.kinds import DATE, KEY, MOMENT, NUMBER, NUMBERS, YES_NO
from fleet.exchange.reading import escaped, unescaped


@given(st.floats(min_value=-1e9, max_value=1e9).filter(lambda value: value == 0 or abs(value) > 1e-15))
def test_a_number_reads_back_exactly(value):
    assert NUMBER.parse(NUMBER.write(value)) == value


@given(st.lists(st.integers(1, 10**6).map(lambda thousandths: thousandths / 1000), min_size=1))
def test_lap_times_read_back_exactly(values):
    assert all(map(math.isclose, NUMBERS.parse(NUMBERS.write(values)), values))


@given(st.datetimes(timezones=st.timezones()).filter(lambda moment: 1900 < moment.year < 2100))
def test_a_moment_reads_back_as_the_same_moment(moment):
    assert MOMENT.parse(MOMENT.write(moment)) == moment.astimezone(UTC)


@given(st.dates())
def test_a_date_reads_back(day):
    assert DATE.parse(DATE.write(day)) == day


@given(st.uuids())
def test_a_key_reads_back(key):
    assert KEY.parse(KEY.write(key)) == key


@given(st.booleans())
def test_yes_and_no_read_back(value):
    assert YES_NO.parse(YES_NO.write(value)) is value


@given(st.text(st.sampled_from("='+-@a1\t\r "), max_size=6))
def test_no_text_runs_as_a_formula_and_every_text_reads_back(text):
    cell = escaped(text)

    assert not cell.startswith(("=", "+", "-", "@", "\t", "\r"))
    assert unescaped(cell) == text
