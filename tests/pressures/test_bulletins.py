"""Bulletins: issued by a person, numbered, frozen, superseded, withdrawn."""

import json
from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import publish_pressure
from fleet.errors import Invalid, NotAllowed, NotFound
from fleet.events.actions import record_conditions
from fleet.garage.actions import add_instrument
from fleet.notices.queries import notices_for
from fleet.pressures.actions import draft_day, issue_bulletin, withdraw_bulletin
from fleet.pressures.content import digest_of
from fleet.pressures.errors import IssuedAlready, NoConditions, NothingToIssue, NotInForce, OutOfDate
from fleet.pressures.guidance import draft
from fleet.pressures.queries import bulletin_in_force, bulletins_for, guidance_for, own_lines, public_bulletin


@pytest.fixture
def drafted(hot_day, now):
    draft(hot_day, at=now)
    return hot_day


@pytest.fixture
def issued(drafted, director, now):
    return issue_bulletin(by=director, at=now, day=drafted)


def cooler(day, now, air_c=24.0):
    record_conditions(
        by=SERVICE,
        at=now + timedelta(seconds=1),
        day=day,
        holds_at=now,
        standing="observed",
        source="thermometer",
        air_c=air_c,
        barometer_kpa=101.1,
        track_surface_c=air_c + 12,
    )
    return draft(day, at=now)


def test_the_director_issues_number_one(issued, drafted, director):
    assert (issued.number, issued.issued_by) == (1, director)
    assert bulletin_in_force(drafted) == issued
    assert issued.digest == digest_of(issued.content)


def test_crew_may_draft_and_not_issue(drafted, crew, now):
    assert draft_day(by=crew, at=now, day=drafted)

    with pytest.raises(NotAllowed):
        issue_bulletin(by=crew, at=now, day=drafted)


def test_a_stranger_finds_nothing_to_draft_or_issue(drafted, stranger, now):
    for action in (draft_day, issue_bulletin):
        with pytest.raises(NotFound):
            action(by=stranger, at=now, day=drafted)


def test_a_day_without_conditions_says_what_is_missing(day, crew, director, now):
    with pytest.raises(NoConditions, match="paste a METAR"):
        draft_day(by=crew, at=now, day=day)
    with pytest.raises(NothingToIssue):
        issue_bulletin(by=director, at=now, day=day)


def test_a_bulletin_carries_no_personal_data(issued, rider, entry):
    text = json.dumps(issued.content)

    assert "Mirrin" in text
    for private in (rider.name, rider.code, f'"{entry.number}"', rider.person.email):
        assert private not in text


def test_a_new_bulletin_supersedes_the_one_before(issued, drafted, director, now):
    later = now + timedelta(hours=1)
    guidance = cooler(drafted, later)

    second = issue_bulletin(by=director, at=later, day=drafted, guidance=guidance)

    issued.refresh_from_db()
    assert second.number == 2
    assert issued.superseded_at == later
    assert bulletin_in_force(drafted) == second


@pytest.fixture
def fine_gauge(rider):
    return add_instrument(by=SERVICE, code="g-1", name="master", kind="pressure", rider=rider, step_kpa=0.5)


def test_a_line_that_moved_a_gauge_step_says_by_how_much_and_that_the_weather_did_it(
    fine_gauge, issued, drafted, rider, now
):
    before = {line.axle: line.shown_kpa for line in own_lines(rider, drafted, at=now)}

    cooler(drafted, now, air_c=15.0)

    for line in own_lines(rider, drafted, at=now):
        assert line.moved_because == "weather"
        assert line.moved_kpa == pytest.approx(line.shown_kpa - before[line.axle])
        assert line.moved_kpa < 0


def test_a_line_that_moved_because_of_the_makers_figure_says_spec(
    fine_gauge, issued, drafted, line, rider, now
):
    publish_pressure(
        by=SERVICE, line=line, axle="rear", basis="hot", pressure_kpa=205.0, published_by="Mirrin data sheet"
    )

    draft(drafted, at=now)

    moved = {line.axle: line.moved_because for line in own_lines(rider, drafted, at=now)}
    assert moved == {"front": "", "rear": "spec"}


def test_a_draft_is_issued_once(issued, drafted, director, now):
    with pytest.raises(IssuedAlready):
        issue_bulletin(by=director, at=now, day=drafted)


def test_a_draft_that_was_overtaken_is_not_issued(drafted, director, now):
    looked_at = draft(drafted, at=now)
    cooler(drafted, now + timedelta(minutes=5))

    with pytest.raises(OutOfDate):
        issue_bulletin(by=director, at=now, day=drafted, guidance=looked_at)


def test_a_withdrawn_bulletin_stays_readable_with_its_reason(issued, drafted, director, now):
    withdraw_bulletin(by=director, at=now, bulletin=issued, reason="wrong track temperature")

    assert bulletin_in_force(drafted) is None
    assert public_bulletin(drafted.public_code) is None
    assert bulletins_for(director).get().withdrawn_because == "wrong track temperature"


def test_withdrawing_needs_a_reason_and_works_once(issued, director, now):
    with pytest.raises(Invalid):
        withdraw_bulletin(by=director, at=now, bulletin=issued, reason=" ")
    withdraw_bulletin(by=director, at=now, bulletin=issued, reason="wrong")

    with pytest.raises(NotInForce):
        withdraw_bulletin(by=director, at=now, bulletin=issued, reason="again")


def test_entered_riders_are_told_once(issued, rider_person):
    assert [notice.topic for notice in notices_for(rider_person)] == ["bulletin"]


def test_later_drafts_leave_an_issued_bulletin_as_it_was(issued, drafted, now):
    before = issued.content

    cooler(drafted, now + timedelta(hours=1))

    issued.refresh_from_db()
    assert issued.content == before
    assert issued.guidance.lines.count() == 4


def test_a_rider_reads_bulletins_of_entered_events_only(issued, rider_person, other_rider):
    assert list(bulletins_for(rider_person)) == [issued]
    assert list(bulletins_for(other_rider.person)) == []


def test_a_vendor_reads_the_bulletins_of_its_customers_days_and_no_drafts(
    issued, drafted, fitter, stranger, crew
):
    assert list(bulletins_for(fitter)) == [issued]
    assert list(bulletins_for(stranger)) == []
    assert guidance_for(fitter, drafted) is None
    assert guidance_for(crew, drafted) == issued.guidance


def test_a_bulletin_says_how_much_more_a_warmer_tire_gets(issued):
    # Constant volume: absolute pressure over kelvin, here about (190 + 101.1) kPa at 312.15 K.
    assert issued.content["warmer_kpa_per_c"] == pytest.approx(0.93, abs=0.03)
