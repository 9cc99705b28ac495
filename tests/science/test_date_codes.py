import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.science.date_codes import UnreadableDateCode, age_years, parse_tin, week_start

SEEN_ON = dt.date(2026, 7, 15)


@pytest.mark.parametrize(("code", "week", "year"), [("0301", 3, 2001), ("2501", 25, 2001)])
def test_four_digits_are_week_and_year(code, week, year):
    # 64 FR 36807 (July 8, 1999), examples: 0301 the third week of 2001, 2501 the twenty-fifth.
    tire = parse_tin(code, SEEN_ON)

    assert (tire.kind, tire.week, tire.year) == ("short", week, year)


def test_three_digits_leave_the_decade_open():
    # 64 FR 36807 (July 8, 1999): 031 is the third week of 1981 or of 1991.
    tire = parse_tin("031", SEEN_ON)

    assert tire.kind == "three-digit"
    assert [start.year for start in tire.candidates] == [1981, 1991]
    assert tire.year is None
    assert tire.made_on is None


def test_a_three_digit_date_of_early_2000_is_offered_beside_the_other_decades():
    # The four-digit rule of 64 FR 36807 came into force in July 2000 (date from memory).
    assert [start.year for start in parse_tin("100", SEEN_ON).candidates] == [1980, 1990, 2000]
    assert [start.year for start in parse_tin("400", SEEN_ON).candidates] == [1980, 1990]


def test_thirteen_symbols_are_plant_maker_symbols_and_date():
    # 49 CFR 574.5 as amended by 80 FR 19553 (April 13, 2015): 3 + 6 + 4 symbols.
    tire = parse_tin("1AB CDEF12 2319", SEEN_ON)

    assert (tire.plant, tire.size_code, tire.maker_symbols) == ("1AB", "", "CDEF12")
    assert (tire.kind, tire.week, tire.year) == ("full", 23, 2019)


def test_thirteen_symbols_begin_with_the_year_2015():
    # 80 FR 19553 (April 13, 2015).
    assert parse_tin("1ABCDEF122315", SEEN_ON).year == 2015


@pytest.mark.parametrize(
    ("text", "maker_symbols"), [("5R564414", ""), ("5R56A4414", "A"), ("5R56ABCD4414", "ABCD")]
)
def test_eight_to_twelve_symbols_are_plant_size_optional_symbols_and_date(text, maker_symbols):
    # 49 CFR 574.5 before 2015: 2 plant, 2 size, up to 4 optional, 4 date.
    tire = parse_tin(text, SEEN_ON)

    assert (tire.plant, tire.size_code, tire.maker_symbols) == ("5R", "56", maker_symbols)
    assert (tire.week, tire.year) == (44, 2014)


def test_a_number_of_the_nineties_keeps_its_plant():
    tire = parse_tin("DOT 5RAB CDE317", SEEN_ON)

    assert (tire.kind, tire.plant, tire.size_code, tire.maker_symbols) == ("three-digit", "5R", "AB", "CDE")
    assert [start.year for start in tire.candidates] == [1987, 1997]


@pytest.mark.parametrize("text", ["DOT 1AB-CDEF12-2319", " dot1abcdef122319 ", "1AB\u2013CDEF12 23 19"])
def test_spaces_dashes_case_and_a_leading_dot_do_not_matter(text):
    assert parse_tin(text, SEEN_ON).text == "1ABCDEF122319"


@pytest.mark.parametrize("year", [2000, 2006, 2012, 2017, 2023])
def test_a_year_with_53_full_weeks_ends_its_last_one_at_the_year_s_end(year):
    # 49 CFR 574.5(b): week 01 is the first full week, Sunday to Saturday (from memory); years with a week 53.
    start = week_start(year, 53)

    assert start.year == year
    assert start.weekday() == 6


@pytest.mark.parametrize("year", [2004, 2009, 2015, 2020])
def test_week_53_of_iso_years_is_accepted_though_the_regulation_has_none(year):
    # ISO 8601: years with a week 53.
    assert dt.date(year, 12, 28).isocalendar().week == 53

    tire = parse_tin(f"53{year % 100:02d}", SEEN_ON)

    assert tire.week == 53
    assert tire.earliest_on.year == year


@given(st.integers(1, 53), st.integers(2000, 2025))
def test_a_written_week_reads_back_and_begins_on_a_sunday(week, year):
    tire = parse_tin(f"{week:02d}{year % 100:02d}", SEEN_ON)

    assert (tire.week, tire.year) == (week, year)
    assert tire.made_on == week_start(year, week)
    assert tire.made_on.weekday() == 6


@given(st.integers(1, 52), st.integers(2000, 2025))
def test_a_maker_counting_by_iso_is_never_earlier_than_the_tolerance_allows(week, year):
    iso_monday = dt.date.fromisocalendar(year, week, 1)

    tire = parse_tin(f"{week:02d}{year % 100:02d}", SEEN_ON)

    assert tire.earliest_on <= iso_monday <= tire.made_on + dt.timedelta(days=7)


@pytest.mark.parametrize("code", ["0019", "5419", "9919", "004", "541"])
def test_weeks_that_do_not_exist_are_refused(code):
    with pytest.raises(UnreadableDateCode, match=r"Week \d\d does not exist; .* 01 to 53"):
        parse_tin(code, SEEN_ON)


def test_a_date_after_the_tire_was_seen_is_refused():
    with pytest.raises(UnreadableDateCode, match="3026 means week 30 of 2026, which is after 2026-07-15"):
        parse_tin("3026", SEEN_ON)


def test_a_tire_of_this_very_week_is_accepted_by_either_way_of_counting():
    # July 15, 2026 is in week 28 of the regulation's count and week 29 of ISO 8601.
    assert parse_tin("2826", SEEN_ON).made_on == dt.date(2026, 7, 12)
    assert parse_tin("2926", SEEN_ON).earliest_on == dt.date(2026, 7, 12)


def test_a_date_is_refused_from_the_day_before_the_tolerance_on():
    # Week 29 of 2026 begins on July 19; ISO 8601 counts a week that begins up to seven days earlier.
    assert parse_tin("2926", dt.date(2026, 7, 12)).made_on == dt.date(2026, 7, 19)
    with pytest.raises(UnreadableDateCode, match="which is after 2026-07-11"):
        parse_tin("2926", dt.date(2026, 7, 11))


def test_a_letter_after_the_date_is_refused():
    # NHTSA interpretation: 5R5691439T is not a valid number, the date must come last.
    with pytest.raises(
        UnreadableDateCode, match=r"The letter T follows the date 1439 .* leave the letter out"
    ):
        parse_tin("5R5691439T", SEEN_ON)


@pytest.mark.parametrize(
    ("letter", "digit"), [("G", "6"), ("I", "1"), ("O", "0"), ("Q", "0"), ("S", "5"), ("Z", "2")]
)
def test_letters_that_are_never_used_are_refused_with_the_digit_they_resemble(letter, digit):
    # 49 CFR 574.5: G, I, O, Q, S and Z are not used (from memory).
    with pytest.raises(UnreadableDateCode, match=f"letter {letter} at place 3 .* is it the digit {digit}"):
        parse_tin(f"1A{letter}CDEF122319", SEEN_ON)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "An empty text does not end with a date"),
        ("12", "has 2 symbols; an identification number has 13"),
        ("1ABCDEF12", "does not end with a date"),
        ("1AB?DEF122319", r"\? at place 4 .* digits and letters only"),
        ("\u0662\u0663\u0661\u0669", "digits and letters only"),
        ("12319", "has 5 symbols; an identification number has 13"),
        ("1ABCDEF1232319", "has 14 symbols"),
        ("AB12319", "may be a retread's number"),
        ("1ABCDEF12A319", "13 symbols must end with four"),
        ("1ABCDEF122314", "has 13 symbols but the date 2314 is in 2014"),
    ],
)
def test_anything_else_is_refused_with_a_sentence(text, sentence):
    with pytest.raises(UnreadableDateCode, match=sentence):
        parse_tin(text, SEEN_ON)


def test_a_three_digit_date_before_any_of_its_decades_is_refused():
    with pytest.raises(UnreadableDateCode, match="none of which lies between 1980 and 1980-01-31"):
        parse_tin("031", dt.date(1980, 1, 31))


def test_age_counts_from_the_start_of_the_week():
    made_on = parse_tin("2320", SEEN_ON).made_on

    assert made_on == dt.date(2020, 6, 7)
    assert age_years(made_on, dt.date(2026, 6, 7)) == pytest.approx(6, abs=0.01)


def test_age_is_zero_within_the_tolerance_and_refused_before_it():
    made_on = dt.date(2026, 7, 19)

    assert age_years(made_on, dt.date(2026, 7, 13)) == 0
    with pytest.raises(ValueError, match="on must not be before the tire was made"):
        age_years(made_on, dt.date(2026, 7, 11))
