"""A figure set by hand is told with the computed one beside it: in the draft, in the bulletin and in a rider's own lines."""

import pytest

from fleet.accounts.policy import SERVICE
from fleet.events.actions import record_conditions
from fleet.pressures.actions import draft_day, issue_bulletin, set_line_by_hand
from fleet.pressures.queries import board_lines


@pytest.fixture
def computed(world, director, now):
    """What the new draft computed for the rear, which is then set to 200 kPa by hand."""
    day = world.rows["day"]
    record_conditions(
        by=SERVICE, at=now, day=day, holds_at=now, standing="observed", source="thermometer", air_c=22.0
    )
    line = board_lines(draft_day(by=SERVICE, at=now, day=day)).get(axle="rear")
    set_line_by_hand(by=director, at=now, line=line, set_kpa=200.0, reason="asked for by word of mouth")
    return line.shown_kpa


def rear(lines, entry=None):
    return next(line for line in lines if line["axle"] == "rear" and line.get("entry") == entry)


def test_the_draft_tells_both_figures_on_its_board_and_changes_no_rider(ask, world, crew, computed):
    lines = ask(crew).get(f"/api/v1/days/{world.rows['day'].pk}/guidance").json()["lines"]

    board, own = rear(lines), rear(lines, str(world.rows["entry"].pk))
    assert (board["shown_kpa"], board["computed_kpa"], board["is_beyond_range"]) == (200.0, computed, False)
    assert (own["computed_kpa"], own["is_beyond_range"]) == (None, False)


def test_the_bulletin_tells_both_and_never_the_reason(ask, world, crew, computed, now):
    bulletin = issue_bulletin(by=SERVICE, at=now, day=world.rows["day"])

    answer = ask(crew).get(f"/api/v1/bulletins/{bulletin.pk}")

    by_axle = {line["axle"]: line for line in answer.json()["content"]["lines"]}
    assert (by_axle["rear"]["shown_kpa"], by_axle["rear"]["computed_kpa"]) == (200.0, computed)
    assert by_axle["front"]["computed_kpa"] is None
    assert "word of mouth" not in answer.content.decode()


def test_riders_own_lines_tell_both_once_it_is_issued(ask, world, rider_person, crew, computed, now):
    own_lines = f"/api/v1/days/{world.rows['day'].pk}/own-lines"
    before = rear(ask(rider_person).get(own_lines).json(), str(world.rows["entry"].pk))
    issue_bulletin(by=SERVICE, at=now, day=world.rows["day"])

    after = rear(ask(rider_person).get(own_lines).json(), str(world.rows["entry"].pk))
    seen = ask(crew).get(f"/api/v1/days/{world.rows['day'].pk}/guidance").json()["lines"]

    assert before["computed_kpa"] is None
    reads_high_kpa = 212.0 - 210.0  # Robin's gauge in this world
    assert after["shown_kpa"] - reads_high_kpa == pytest.approx(200.0, abs=2.0)
    assert after["computed_kpa"] == before["shown_kpa"]
    assert rear(seen, str(world.rows["entry"].pk))["computed_kpa"] == before["shown_kpa"]
