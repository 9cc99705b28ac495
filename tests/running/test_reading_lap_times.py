"""Lap times pasted from any timing sheet. The sheets here are our own; no published source fixes their form."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.errors import Invalid
from fleet.running.lap_times import as_lap, read_lap_times, seconds_of

THREE = (102.3, 101.9, 103.05)
SHEETS = {
    "alone": "1:42.3\n1:41.9\n1:43.05\n",
    "seconds": "102.3\n101.9\n103.05",
    "with s": "102.3 s\n101.9 s\n103.05s",
    "decimal comma": "1:42,3\n1:41,9\n1:43,05",
    "seconds with a decimal comma": "102,3\n101,9\n103,05",
    "minutes and seconds marked": "1'42.3\n1'41.9\n1'43.05",
    "marked fully": "1'42.3\"\n1'41.9\"\n1'43.05\"",
    "with hours": "0:01:42.3\n0:01:41.9\n0:01:43.05",
    "Windows lines and a mark of byte order": "\ufeff1:42.3\r\n1:41.9\r\n\r\n1:43.05\r\n",
    "one line": "1:42.3 1:41.9 1:43.05",
    "one line with commas": "102.3, 101.9, 103.05",
    "one line with semicolons": "1:42,3; 1:41,9; 1:43,05",
    "numbered": "1 1:42.3\n2 1:41.9\n3 1:43.05",
    "numbered with tabs": "1\t1:42.3\n2\t1:41.9\n3\t1:43.05",
    "numbers past ten": "11,1:42.3\n12,1:41.9\n13,1:43.05",
    "CSV with a heading": "Lap,Lap time,Speed\n1,1:42.3,151\n2,1:41.9,152\n3,1:43.05,150",
    "quoted CSV": '"Lap","Lap Time"\n"1","1:42.3"\n"2","1:41.9"\n"3","1:43.05"',
    "CSV in seconds": "lap,laptime,kmh\n1,102.3,151.2\n2,101.9,152.1\n3,103.05,150.3",
    "semicolons and decimal commas": "Lap;Time;Gap\n1;1:42,3;0,4\n2;1:41,9;\n3;1:43,05;1,15",
    "a sheet's title above": "Group Fast, bike 27\nLap\tTime\n1\t1:42.3\n2\t1:41.9\n3\t1:43.05",
    "sectors beside": "1 0:31.1 0:35.1 0:36.1 1:42.3\n2 0:31.0 0:35.0 0:35.9 1:41.9\n3 0:32.05 0:35.0 0:36.0 1:43.05",
    "a clock beside": "1 1:42.3 10:01:42\n2 1:41.9 10:03:24\n3 1:43.05 10:05:07",
    "time elapsed beside": "1;1:42.3;1:42.3\n2;1:41.9;3:24.2\n3;1:43.05;5:07.25",
    "an empty lap": "Lap,Lap time\n1,1:42.3\n2,\n3,1:41.9\n4,1:43.05",
}


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=SHEETS)
def test_lap_times_are_read_whatever_stands_beside_them(sheet):
    assert read_lap_times(sheet).times_s == THREE


def test_what_was_understood_is_said():
    assert read_lap_times(SHEETS["CSV with a heading"]).found == "the column “Lap time”"
    assert read_lap_times(SHEETS["sectors beside"]).found == "column 5 of 5"
    assert read_lap_times(SHEETS["alone"]).found == "one time a line"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("1:42.3\n\nPIT\n1:41.9", "Line 3: “PIT” is no lap time: write a lap as 1:42.3 or 102.3"),
        ("1:42.3\n1:75.0", "Line 2: “1:75.0” is no lap time"),
        ("1:42.3\n3.2", "Line 2: 0:03.2 is no lap time, which lies between 10 seconds and an hour"),
        ("1:42.3\n1:10:00.0", "Line 2: 70:00.0 is no lap time"),
        ("Lap;Lap time\n1;1:42.3\n2;out\n3;1:43.0", "Line 3: “out” is no lap time"),
        (
            "1 1:42.3 1:41.0\n2 1:41.0 1:42.0\n3 1:42.0 1:41.5",
            "Line 1: columns 2 and 3 could be the lap times",
        ),
        ("Best lap of the day", "Line 1 has words only and no lap follows"),
        ("1;2;3\n2;3;4\n3;4;5", "Line 1: no column is the lap times"),
        ("1:42.3\n" * 401, "401 laps are more than one stint has"),
        ("x" * 40_001, "more than a stint's lap times"),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_line(text, said):
    with pytest.raises(Invalid) as refused:
        read_lap_times(text)

    assert said in refused.value.sentence
    assert refused.value.field == "lap_times"


@pytest.mark.parametrize("text", ["", "  \n\t\n", "\ufeff"])
def test_nothing_pasted_is_no_lap(text):
    assert read_lap_times(text).times_s == ()


@given(st.text(max_size=300))
def test_any_text_is_read_or_refused(text):
    with suppress(Invalid):
        assert all(10 <= one <= 3600 for one in read_lap_times(text).times_s)


@given(st.lists(st.integers(10_000, 3_599_999), min_size=1, max_size=60))
def test_what_is_written_is_read_again(milliseconds):
    times = tuple(one / 1000 for one in milliseconds)

    assert read_lap_times("\n".join(map(as_lap, times))).times_s == times


@pytest.mark.parametrize(
    ("cell", "seconds"), [("1:42.3", 102.3), ("59.9", 59.9), ("x", None), ("1:99", None)]
)
def test_a_cell_is_a_time_or_nothing(cell, seconds):
    assert seconds_of(cell) == seconds
