"""A line set by hand: within the spec's range by who drafts, beyond it by the director alone, always with a reason."""

from datetime import timedelta

import pytest

from fleet.accounts.models import Change
from fleet.accounts.policy import SERVICE
from fleet.catalogue.models import TireSpec
from fleet.errors import Invalid, NotAllowed, NotFound
from fleet.events.actions import record_conditions
from fleet.pressures.actions import draft_day, issue_bulletin, set_line_by_hand, take_back_override
from fleet.pressures.content import digest_of
from fleet.pressures.errors import IssuedAlready, OutOfDate
from fleet.pressures.models import GuidanceLine, Override
from fleet.pressures.overrides import mark_of_overrides
from fleet.pressures.queries import board_lines

WHY = "The maker's engineer here asked for it after the first session, director agreed."


@pytest.fixture
def weather(day, now):
    def holds(air_c, later=timedelta()):
        return record_conditions(
            by=SERVICE, at=now + later, day=day, holds_at=now + later, standing="observed", source="thermometer",
            air_c=air_c, track_surface_c=air_c + 12, altimeter_kpa=101.6,
        )  # fmt: skip

    return holds


@pytest.fixture
def draft(weather, entry, fitted, slot, day, now):
    weather(22.0)
    return draft_day(by=SERVICE, at=now, day=day)


@pytest.fixture
def rear(draft):
    """The rear's line on the board; its spec allows 150 to 290 kPa."""
    return board_lines(draft).get(axle="rear")


@pytest.fixture
def set_to(crew, rear, now):
    def done(kpa, reason="felt better this morning", by=crew, line=rear):
        return set_line_by_hand(by=by, at=now, line=line, set_kpa=kpa, reason=reason)

    return done


def issued(director, day, now, **given):
    return issue_bulletin(by=director, at=now, day=day, **given)


def line_of(bulletin, axle):
    return next(line for line in bulletin.content["lines"] if line["axle"] == axle)


def test_the_bulletin_says_the_hands_figure_and_the_computed_one_and_not_the_reason(
    set_to, rear, director, day, now
):
    set_to(200.0)

    bulletin = issued(director, day, now)

    told = line_of(bulletin, "rear")
    assert (told["shown_kpa"], told["computed_kpa"]) == (200.0, rear.shown_kpa)
    assert (told["is_beyond_range"], told["limit_hit"], told["moved_because"]) == (False, "", "set by hand")
    assert "computed_kpa" not in line_of(bulletin, "front")
    assert "felt better" not in str(bulletin.content)
    assert bulletin.digest == digest_of(bulletin.content)


@pytest.mark.parametrize(("kpa", "is_within"), [(150.0, True), (290.0, True), (149.0, False), (291.0, False)])
def test_crew_stay_within_the_range_and_the_director_goes_beyond_with_a_reason(
    set_to, director, kpa, is_within
):
    if is_within:
        assert not set_to(kpa).is_beyond_range
        return
    with pytest.raises(Invalid, match="only the event director"):
        set_to(kpa, WHY)
    with pytest.raises(Invalid, match="full sentence"):
        set_to(kpa, "because", by=director)

    assert set_to(kpa, WHY, by=director).is_beyond_range


@pytest.mark.parametrize(
    ("kpa", "reason", "field"),
    [(200.0, "", "reason"), (200.0, "  ", "reason"), (20.0, WHY, "set_kpa"), (2000.0, WHY, "set_kpa")],
)
def test_without_a_reason_or_with_an_impossible_figure_nothing_is_set(set_to, director, kpa, reason, field):
    with pytest.raises(Invalid) as refused:
        set_to(kpa, reason, by=director)

    assert refused.value.field == field
    assert not Override.objects.exists()


def test_it_stands_over_later_drafts_until_it_is_taken_back(set_to, weather, crew, day, now):
    set_to(200.0)
    weather(30.0, timedelta(minutes=1))

    later = draft_day(by=SERVICE, at=now + timedelta(minutes=2), day=day)
    line = board_lines(later).get(axle="rear")
    carried = line.override
    take_back_override(by=crew, line=line)

    assert (carried.set_kpa, carried.reason, carried.made_by) == (200.0, "felt better this morning", crew)
    assert not Override.objects.exists()


def test_what_left_the_specs_range_meanwhile_falls_away(set_to, rear, weather, day, now):
    set_to(280.0)
    TireSpec.objects.filter(pk=rear.spec_id).update(upper_kpa=250.0)
    weather(30.0, timedelta(minutes=1))

    draft_day(by=SERVICE, at=now + timedelta(minutes=2), day=day)

    assert not Override.objects.exists()


def test_the_next_draft_compares_with_what_was_issued(set_to, rear, crew, director, weather, day, now):
    set_to(rear.shown_kpa + 20.0)
    issued(director, day, now)
    weather(23.0, timedelta(minutes=1))
    later = draft_day(by=SERVICE, at=now + timedelta(minutes=2), day=day)
    line = board_lines(later).get(axle="rear")

    assert line.moved_because == "set by hand before"
    assert line.moved_kpa == pytest.approx(line.shown_kpa - rear.shown_kpa - 20.0)


def test_nobody_issues_what_somebody_set_since_they_looked(set_to, draft, director, day, now):
    seen = mark_of_overrides(draft)
    set_to(200.0)

    with pytest.raises(OutOfDate, match="set a line by hand since"):
        issued(director, day, now, guidance=draft, overrides_seen=seen)

    assert issued(director, day, now, guidance=draft, overrides_seen=mark_of_overrides(draft)).number == 1


def test_an_issued_or_overtaken_draft_is_not_touched(set_to, rear, weather, director, day, now):
    issued(director, day, now)
    with pytest.raises(IssuedAlready):
        set_to(200.0)
    weather(30.0, timedelta(minutes=1))
    draft_day(by=SERVICE, at=now + timedelta(minutes=2), day=day)

    with pytest.raises(OutOfDate):
        set_to(200.0, line=GuidanceLine.objects.select_related("guidance__day").get(pk=rear.pk))


def test_a_riders_own_line_is_not_set_by_hand(set_to, draft):
    with pytest.raises(Invalid, match="one rider's own"):
        set_to(200.0, line=draft.lines.filter(entry__isnull=False).first())


def test_strangers_and_inspectors_set_nothing(set_to, inspector, stranger):
    with pytest.raises(NotAllowed):
        set_to(200.0, by=inspector)
    with pytest.raises(NotFound):
        set_to(200.0, by=stranger)


def test_the_trail_tells_every_figure_that_was_set(set_to, rear, crew):
    set_to(200.0)
    set_to(205.0, "and once more")
    take_back_override(by=crew, line=rear)

    told = list(Change.objects.filter(noun="override").order_by("at", "what").values_list("what", flat=True))
    assert sorted(told) == ["made", "made", "taken_back", "taken_back"]
