"""What is different between two bulletins."""

from fleet.pressures.differences import differences_between
from fleet.pressures.models import Bulletin


def line(**changes):
    return {
        "spec": "s-1", "maker": "Mirrin", "line": "Lowmoor TD", "size": "190/55 ZR17", "compound": "", "axle": "rear",
        "group": "Fast", "uses_warmers": False, "shown_kpa": 186.0,
    } | changes  # fmt: skip


def bulletin(*lines, **weather):
    conditions = {"air_c": 20.0, "track_surface_c": 30.0, "barometer_kpa": 101.0} | weather
    return Bulletin(content={"lines": list(lines), "conditions": conditions})


def test_equal_bulletins_differ_in_nothing():
    found = differences_between(bulletin(line()), bulletin(line()))

    assert (found.weather, found.lines, found.same) == ([], [], 1)


def test_a_moved_a_new_and_a_gone_line_are_told_apart():
    earlier = bulletin(line(), line(group="Slow"))
    later = bulletin(line(shown_kpa=190.0), line(uses_warmers=True), air_c=25.0)

    found = differences_between(earlier, later)

    assert found.weather == [("air_c", 20.0, 25.0)]
    assert [
        (one.group, one.uses_warmers, one.before_kpa, one.after_kpa, one.by_kpa) for one in found.lines
    ] == [
        ("Fast", False, 186.0, 190.0, 4.0),
        ("Fast", True, None, 186.0, None),
        ("Slow", False, 186.0, None, None),
    ]
    assert found.same == 0
