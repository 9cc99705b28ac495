"""The identification number is read in the browser exactly as the server reads it."""

import datetime as dt
from pathlib import Path

import pytest

import fleet.pages
from fleet.pages.units import age
from fleet.science.date_codes import UnreadableDateCode, parse_tin

pytestmark = pytest.mark.browser

SCRIPT = Path(fleet.pages.__file__).parent / "static/pages/date_code.js"
SEEN_ON = dt.date(2026, 7, 15)
READ = """([texts, seenOn]) => texts.map((text) => {
    try { return readDateCode(text, seenOn); } catch (error) { return error.message; }
})"""

# The examples of 64 FR 36807 and 80 FR 19553, and everything tests/science/test_date_codes.py refuses.
WRITTEN = (
    "0301", "2501", "031", "100", "400", "1AB CDEF12 2319", "1ABCDEF122315", "5R564414", "5R56A4414", "5R56ABCD4414",
    "DOT 5RAB CDE317", "DOT 1AB-CDEF12-2319", " dot1abcdef122319 ", "1AB\u2013CDEF12 23 19", "5319", "0019", "5419",
    "9919", "004", "541", "3026", "2826", "2926", "5R5691439T", "1AGCDEF122319", "1AICDEF122319", "1AOCDEF122319",
    "1AQCDEF122319", "1ASCDEF122319", "1AZCDEF122319", "", "12", "1ABCDEF12", "1AB?DEF122319",
    "\u0662\u0663\u0661\u0669", "12319", "1ABCDEF1232319", "AB12319", "1ABCDEF12A319", "1ABCDEF122314", "DOTDOT0826",
)  # fmt: skip
WEEKS = tuple(
    f"{week:02d}{year:02d}" for year in range(27) for week in (0, 1, 2, 8, 26, 27, 28, 29, 30, 51, 52, 53, 54)
)
OLD = tuple(f"{week:02d}{digit}" for digit in range(10) for week in (0, 1, 26, 27, 52, 53, 54))


def on_the_server(text, seen_on):
    try:
        found = parse_tin(text, seen_on)
    except UnreadableDateCode as error:
        return str(error)
    return {
        "week": found.week,
        "year": found.year,
        "madeOn": found.made_on.isoformat() if found.made_on else None,
        "candidates": [day.isoformat() for day in found.candidates],
    }


@pytest.fixture
def reader(page):
    page.set_content("<!doctype html><title>Numbers</title>")
    page.evaluate(SCRIPT.read_text(encoding="utf-8") + "; globalThis.readDateCode = readDateCode;"
                  "globalThis.ageInWords = ageInWords; undefined;")  # fmt: skip
    return page


@pytest.mark.parametrize(
    "seen_on", [SEEN_ON, dt.date(2026, 7, 11), dt.date(2026, 7, 12), dt.date(1980, 1, 31)]
)
def test_every_number_is_read_and_refused_in_the_same_words(reader, seen_on):
    texts = [*WRITTEN, *WEEKS, *OLD]

    found = reader.evaluate(READ, [texts, seen_on.isoformat()])

    assert dict(zip(texts, found, strict=True)) == {text: on_the_server(text, seen_on) for text in texts}


def test_the_age_is_said_in_the_words_of_the_pages(reader):
    days = [SEEN_ON - dt.timedelta(days=days) for days in (-3, 0, 20, 31, 45, 400, 728, 731, 2200, 4000)]

    found = [
        reader.evaluate("([a, b]) => ageInWords(a, b)", [day.isoformat(), SEEN_ON.isoformat()])
        for day in days
    ]

    assert found == [age(day, SEEN_ON) for day in days]
