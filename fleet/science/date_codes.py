"""Tire identification numbers: who made a tire and in which week.

The layout is that of [CFR574]: plant, size or maker's symbols, and the week and year of manufacture. New
tires carry 13 symbols since 2015, 8 to 12 before; up to 2000 the year was a single digit, so that its decade
cannot be told from the number.
"""

import datetime as dt
import re
from dataclasses import dataclass
from typing import Final, Literal

UNUSED_LETTERS: Final = {"G": "6", "I": "1", "O": "0", "Q": "0", "S": "5", "Z": "2"}
LAST_WEEK: Final = 53
NEW_LENGTH: Final = 13
NEW_SINCE: Final = 2015
NEW_PLANT_LENGTH: Final = 3
OLD_LENGTHS: Final = range(8, 13)
OLD_PLANT_LENGTH: Final = 2
OLD_SIZE_LENGTH: Final = 2
THREE_DIGIT_LENGTHS: Final = range(7, 12)
FOUR_DIGITS: Final = 4
THREE_DIGITS: Final = 3
THREE_DIGIT_DECADES: Final = (1980, 1990, 2000)
LAST_THREE_DIGIT_DAY: Final = dt.date(2000, 7, 1)
DAYS_PER_YEAR: Final = 365.2425

# The regulation counts weeks from the first full one, Sunday to Saturday; makers who count by ISO 8601 may be
# up to a week ahead of it.
WEEK_TOLERANCE: Final = dt.timedelta(days=7)

Kind = Literal["full", "short", "three-digit"]


class UnreadableDateCode(ValueError):  # noqa: N818 - refusals are named as states
    """An identification number or date code that cannot be right, with a sentence that says why."""


@dataclass(frozen=True)
class TireIdentification:
    """What an identification number or a bare date code says about one tire.

    ``kind`` is "full" (with plant), "short" (four digits only) or "three-digit" (a year without its decade,
    with or without plant). ``candidates`` are the week starts the number may mean: one, or with a three-digit
    date one per possible decade; ``year`` and ``made_on`` are then unknown. Parts not given are empty.
    """

    text: str
    kind: Kind
    plant: str
    size_code: str
    maker_symbols: str
    week: int
    year: int | None
    made_on: dt.date | None
    candidates: tuple[dt.date, ...]

    @property
    def earliest_on(self) -> dt.date:
        """Return the first day on which the tire can have been made, a week of tolerance included."""
        return self.candidates[0] - WEEK_TOLERANCE


def parse_tin(text: str, seen_on: dt.date) -> TireIdentification:
    """Read an identification number, or only its three or four date digits, off a tire [CFR574].

    ``text`` is as it stands on the tire, ``seen_on`` the day it was read, which the date cannot lie after. Spaces,
    dashes and a leading "DOT" are dropped, lower case is accepted. Four digits at the end are always read as week and
    year.

    Raises
    ------
    UnreadableDateCode
        If a symbol is not used in such numbers, the length or the end is wrong, the week does not exist, or the
        date lies more than a week of tolerance after ``seen_on``.
    """
    number = re.sub(r"[\s\-\u2010-\u2015]+", "", text).upper().removeprefix("DOT")
    if number.isascii() and number.isdigit() and len(number) == THREE_DIGITS:
        return _three_digit(number, seen_on)
    if number.isascii() and number.isdigit() and len(number) == FOUR_DIGITS:
        return _four_digit(number, "short", seen_on)
    _refuse_symbols(number)
    _refuse_end(number)
    _refuse_length(number)
    if number[-FOUR_DIGITS:].isdigit():
        return _four_digit(number, "full", seen_on)
    return _three_digit(number, seen_on)


def week_start(year: int, week: int) -> dt.date:
    """Compute the Sunday on which a numbered week of manufacture begins [CFR574].

    Week 1 is the first full week, Sunday to Saturday; a week 53 that the year does not have runs into the next.

    Raises
    ------
    UnreadableDateCode
        If the week is not 1 to 53.
    """
    if not 1 <= week <= LAST_WEEK:
        raise UnreadableDateCode(
            f"Week {week:02d} does not exist; the week of manufacture runs from 01 to 53."
        )
    new_year = dt.date(year, 1, 1)
    first_sunday = new_year + dt.timedelta(days=6 - new_year.weekday())
    return first_sunday + dt.timedelta(weeks=week - 1)


def age_years(made_on: dt.date, on: dt.date) -> float:
    """Compute the age in years on a day of a tire whose week of manufacture began on another.

    Within the week of tolerance before ``made_on`` the age is 0.

    Raises
    ------
    ValueError
        If ``on`` is more than the week of tolerance before ``made_on``.
    """
    if on < made_on - WEEK_TOLERANCE:
        raise ValueError(f"on must not be before the tire was made ({made_on}), not {on}")
    return max((on - made_on).days, 0) / DAYS_PER_YEAR


def _four_digit(number: str, kind: Kind, seen_on: dt.date) -> TireIdentification:
    week, year = int(number[-4:-2]), 2000 + int(number[-2:])
    made_on = week_start(year, week)
    if made_on - WEEK_TOLERANCE > seen_on:
        raise UnreadableDateCode(
            f"{number[-4:]} means week {week} of {year}, which is after {seen_on}; four digits are week and year, "
            f"2000 or later, so the date must lie in the past."
        )
    plant, size_code, maker_symbols = _parts(number, FOUR_DIGITS)
    if len(number) == NEW_LENGTH and year < NEW_SINCE:
        raise UnreadableDateCode(
            f"{number} has 13 symbols but the date {number[-4:]} is in {year}; numbers of 13 symbols began in "
            f"2015, so check both, or give only the four date digits."
        )
    return TireIdentification(number, kind, plant, size_code, maker_symbols, week, year, made_on, (made_on,))


def _three_digit(number: str, seen_on: dt.date) -> TireIdentification:
    week, digit = int(number[-3:-1]), int(number[-1])
    starts = (week_start(decade + digit, week) for decade in THREE_DIGIT_DECADES)
    last_day = min(seen_on + WEEK_TOLERANCE, LAST_THREE_DIGIT_DAY)
    candidates = tuple(start for start in starts if start <= last_day)
    if not candidates:
        raise UnreadableDateCode(
            f"{number[-3:]} would be week {week} of a year ending in {digit}, none of which lies between 1980 and "
            f"{seen_on}; since 2000 the date has four digits, week and year."
        )
    plant, size_code, maker_symbols = _parts(number, THREE_DIGITS)
    return TireIdentification(
        number, "three-digit", plant, size_code, maker_symbols, week, None, None, candidates
    )


def _parts(number: str, date_length: int) -> tuple[str, str, str]:
    body = number[:-date_length]
    if len(number) == NEW_LENGTH:
        return body[:NEW_PLANT_LENGTH], "", body[NEW_PLANT_LENGTH:]
    size_end = OLD_PLANT_LENGTH + OLD_SIZE_LENGTH
    return body[:OLD_PLANT_LENGTH], body[OLD_PLANT_LENGTH:size_end], body[size_end:]


def _refuse_symbols(number: str) -> None:
    for position, symbol in enumerate(number, start=1):
        if symbol in UNUSED_LETTERS:
            raise UnreadableDateCode(
                f"The letter {symbol} at place {position} of {number} is not used in identification numbers; "
                f"is it the digit {UNUSED_LETTERS[symbol]}?"
            )
        if not (symbol.isascii() and symbol.isalnum()):
            raise UnreadableDateCode(
                f"{symbol} at place {position} of {number} is not used in identification numbers; "
                f"they consist of digits and letters only."
            )


def _refuse_end(number: str) -> None:
    if re.search(r"\d{4}[A-Z]$", number):
        raise UnreadableDateCode(
            f"The letter {number[-1]} follows the date {number[-5:-1]} in {number}; the number must end with the "
            f"date, so leave the letter out."
        )
    if not number[-THREE_DIGITS:].isdigit():
        raise UnreadableDateCode(
            f"{number or 'An empty text'} does not end with a date; it must end with four digits, week and year, "
            f"such as 2319 for week 23 of 2019."
        )


def _refuse_length(number: str) -> None:
    length = len(number)
    if number[-FOUR_DIGITS:].isdigit():
        if length == NEW_LENGTH or length in OLD_LENGTHS:
            return
        if length in THREE_DIGIT_LENGTHS:
            raise UnreadableDateCode(
                f"{number} may be a retread's number or one from before 2000; give only its three or four date "
                f"digits."
            )
    elif length in THREE_DIGIT_LENGTHS:
        return
    elif length == NEW_LENGTH or length in OLD_LENGTHS:
        raise UnreadableDateCode(
            f"{number} ends with three digits only; a number of {length} symbols must end with four, week and year."
        )
    raise UnreadableDateCode(
        f"{number} has {length} symbols; an identification number has 13 since 2015, 8 to 12 before, 7 to 11 up to "
        f"2000, or give only the three or four date digits."
    )
