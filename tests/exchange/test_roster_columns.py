"""A roster from an organiser's own list: titles above it, other words for its columns, and more than a roster needs."""

import pytest

from fleet.exchange.roster_columns import ALSO, NAMES, named
from fleet.exchange.rosters import ROSTER, keep_roster, roster_of


@pytest.fixture
def kept(crew, day, group, now):
    def sent(text):
        return keep_roster(by=crew, at=now, day=day, name="roster.csv", data=text.encode())

    return sent


def test_every_name_is_one_of_the_sheets():
    assert list(NAMES) == [column.name for column in ROSTER.columns]
    assert set(ALSO.values()) <= set(NAMES)


def test_a_title_above_the_columns_is_passed_over_and_lines_keep_their_numbers(kept):
    roster = roster_of(kept("Longfield roster,,,\n,,,\nNumber,Name,GROUP,Bike\n7,Ann Ash,Fast,600 sport\n"))

    assert not roster.whole
    assert [(row.line, row.cells["name"], row.does) for row in roster.rows] == [(4, "Ann Ash", "new")]


@pytest.mark.parametrize(
    "header",
    ["No.,Rider,Group,Motorcycle", "#,Rider name,Pace group,Bike class", "Race number,Full Name,group,bike"],
)
def test_columns_are_known_by_the_words_people_use(kept, header):
    [row] = roster_of(kept(f"{header}\n7,Ann Ash,Fast,600 sport\n")).rows

    assert (row.cells["number"], row.cells["name"], row.cells["bike"], row.does) == (
        "7", "Ann Ash", "600 sport", "new",
    )  # fmt: skip


def test_a_column_by_its_own_name_goes_before_another_word_for_it():
    found = named([(1, ["phone", "contact", "number", "name"]), (2, ["0770", "a@example.org", "7", "Ann"])])

    assert found.records == [(1, ["number", "name", "contact"]), (2, ["7", "Ann", "a@example.org"])]
    assert found.passed_over == ["phone"]


def test_the_riders_code_stays_the_code_where_names_have_a_column_of_their_own():
    found = named([(1, ["number", "name", "rider"]), (2, ["7", "Ann", "r-ann"])])

    assert found.records[0] == (1, ["number", "name", "rider"])


def test_what_a_roster_has_no_use_for_is_stored_nowhere(kept):
    upload = kept("number,name,group,bike,date of birth\n7,Ann Ash,Fast,600 sport,1990-01-02\n")

    assert "1990" not in str(upload.rows)
    assert roster_of(upload).is_ready


def test_a_row_that_fills_only_what_is_passed_over_is_no_row(kept):
    assert (
        len(roster_of(kept("number,name,group,bike,paid\n7,Ann Ash,Fast,600 sport,1\n,,,,total 1\n")).rows)
        == 1
    )


@pytest.mark.parametrize(
    ("text", "missing"), [("number,name,bike\n7,Ann,600\n", "group"), ("Rider list\n7,Ann,Fast\n", "number")]
)
def test_a_column_that_is_missing_is_named(kept, text, missing):
    assert missing in [fault.column for fault in roster_of(kept(text)).whole]


def test_a_row_that_cannot_be_read_is_shown_as_it_was_sent(kept):
    [row] = roster_of(kept("number,name,group,bike,warmers\n10,Anna Neu,Fast,600 sport,x\n")).faulty

    assert row.said == "10, Anna Neu, Fast, 600 sport, x"
