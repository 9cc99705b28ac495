"""What is different between two bulletins, in each part of the day."""

from fleet.pressures.differences import differences_between
from fleet.pressures.models import Bulletin


def line(**changes):
    return {
        "spec": "s-1", "maker": "Mirrin", "line": "Lowmoor TD", "size": "190/55 ZR17", "compound": "", "axle": "rear",
        "group": "Fast", "uses_warmers": False, "shown_kpa": 186.0,
    } | changes  # fmt: skip


def part(name="", begins="00:00", ends="23:59", **weather):
    return {
        "name": name,
        "starts_at": f"2026-06-12T{begins}:00+01:00",
        "ends_at": f"2026-06-12T{ends}:00+01:00",
        "conditions": {"air_c": 20.0, "track_surface_c": 30.0, "barometer_kpa": 101.0} | weather,
    }


def bulletin(*lines, parts=None, **weather):
    return Bulletin(content={"lines": list(lines), "parts": parts or [part(**weather)]})


def test_equal_bulletins_differ_in_nothing():
    found = differences_between(bulletin(line()), bulletin(line()))

    assert (found.weather, found.lines, found.same) == ([], [], 1)


def test_a_moved_a_new_and_a_gone_line_are_told_apart():
    earlier = bulletin(line(), line(group="Slow"))
    later = bulletin(line(shown_kpa=190.0), line(uses_warmers=True), air_c=25.0)

    found = differences_between(earlier, later)

    assert found.weather == [("", "air_c", 20.0, 25.0)]
    assert [
        (one.group, one.uses_warmers, one.before_kpa, one.after_kpa, one.by_kpa) for one in found.lines
    ] == [
        ("Fast", False, 186.0, 190.0, 4.0),
        ("Fast", True, None, 186.0, None),
        ("Slow", False, 186.0, None, None),
    ]
    assert found.same == 0


def test_what_is_left_of_the_day_is_compared_with_what_was_said_for_that_time():
    three = [
        part("morning", ends="11:00"),
        part("midday", "11:00", "14:00", air_c=26.0),
        part("afternoon", "14:00"),
    ]
    earlier = bulletin(
        line(part="morning"), line(part="midday", shown_kpa=183.0), line(part="afternoon", shown_kpa=183.0), parts=three
    )  # fmt: skip
    later = bulletin(
        line(part="midday", shown_kpa=180.0), line(part="afternoon", shown_kpa=183.0),
        parts=[part("midday", "11:00", "14:00", air_c=31.0), part("afternoon", "14:00")],
    )  # fmt: skip

    found = differences_between(earlier, later)

    assert found.weather == [("midday", "air_c", 26.0, 31.0)]
    assert [(one.part, one.before_kpa, one.after_kpa) for one in found.lines] == [("midday", 183.0, 180.0)]
    assert found.same == 1
