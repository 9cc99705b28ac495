"""A history is read by whoever owns it: newest first, who as far as they may know, before and after."""

from datetime import timedelta

import pytest
from django.apps import apps
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.accounts.actions import give_role, make_organisation_key
from fleet.accounts.models import Role
from fleet.accounts.policy import SERVICE
from fleet.events.actions import record_conditions
from fleet.garage.actions import add_bike, correct_bike, register_rider, share
from fleet.history.queries import Wanted, history_for
from fleet.history.sources import SOURCES
from fleet.inventory.actions import (
    advance_ticket,
    lift_hold,
    move_stock,
    place_hold,
    remove_tire,
    take_wheels_in,
    void_removal,
)
from fleet.records import Fact
from fleet.running.actions import note_feel, record_tread, void_note, void_stint
from tests.conftest import somebody

EVERYTHING = 500


def told(by, **wanted):
    lines, _ = history_for(by, wanted=Wanted(**wanted), rows=EVERYTHING)
    return lines


def said(by, **wanted):
    return [(line.what, line.noun) for line in told(by, **wanted)]


def test_every_kind_of_fact_is_read():
    facts = {model for model in apps.get_models() if issubclass(model, Fact)}

    assert {source.model for source in SOURCES} == facts


def test_a_rider_reads_all_that_was_done_to_their_things(rider_person, stint, fitter, tarn, fitted, now):
    record_tread(
        by=fitter, at=now, vendor=tarn, tire=fitted["front"].tire, zone="C", taken_at=now, depth_mm=4.5
    )

    nouns = {line.noun for line in told(rider_person)}

    assert nouns == {
        "person",
        "rider",
        "bike",
        "wheel_pair",
        "entry",
        "fitting",
        "stint",
        "pressure_reading",
        "tread_reading",
    }


def test_the_newest_comes_first_and_pages_join_without_gap_or_double(rider_person, stint, bike):
    correct_bike(by=rider_person, bike=bike, description="600 sport")
    whole = told(rider_person)

    paged, mark = [], None
    while True:
        lines, mark = history_for(rider_person, wanted=Wanted(after=mark), rows=3)
        paged += lines
        if mark is None:
            break

    assert [line.at for line in whole] == sorted((line.at for line in whole), reverse=True)
    assert paged == whole
    assert len(whole) > 9


def test_a_fact_voided_in_the_moment_it_was_recorded_is_told_twice_over_two_pages(rider_person, stint, now):
    void_stint(by=rider_person, at=now, stint=stint, reason="wrong day")

    first, mark = history_for(rider_person, wanted=Wanted(noun="stint"), rows=1)
    second, end = history_for(rider_person, wanted=Wanted(noun="stint", after=mark), rows=1)

    assert [line.what for line in (*first, *second)] == ["voided", "recorded"]
    assert end is None


def test_staff_are_named_with_their_organisation_and_riders_only_to_themselves(
    rider_person, stock_manager, fitter, tarn, wheel_pair, fitted, now
):
    tire = fitted["front"].tire
    hold = place_hold(
        by=fitter, at=now, tire=tire, placed_for=tarn, reason="damage", placed_at=now, note="cut"
    )
    lift_hold(by=fitter, at=now, hold=hold, reason="only dirt")
    remove_tire(
        by=rider_person,
        at=now,
        fitting=fitted["front"],
        removed_at=now,
        reason="other",
        destination="handed_back",
    )

    for reader, crew, rider in (
        (rider_person, "Fen Aldous, Tarn Tire Service", "Robin Vale"),
        (stock_manager, "Fen Aldous, Tarn Tire Service", "the rider"),
    ):
        by = {(line.what, line.noun): line for line in told(reader)}
        assert by["recorded", "hold"].by == by["lifted", "hold"].by == crew
        assert by["recorded", "hold"].on_behalf_of == by["lifted", "hold"].on_behalf_of == tarn
        assert by["recorded", "removal"].by == rider
        assert by["recorded", "removal"].on_behalf_of is None
        assert by["recorded", "fitting"].by == "the service"


def test_a_fact_tells_what_was_written_then_and_a_voiding_its_reason(rider_person, fitter, tarn, fitted, now):
    removal = remove_tire(
        by=fitter,
        at=now,
        fitting=fitted["front"],
        removed_at=now - timedelta(hours=1),
        reason="worn",
        destination="scrapped",
        vendor=tarn,
    )
    fittings = told(rider_person, noun="fitting")
    void_removal(by=fitter, at=now + timedelta(minutes=1), removal=removal, reason="wrong bike", vendor=tarn)

    voided, recorded = told(rider_person, noun="removal")

    assert (recorded.what, recorded.before, recorded.after["reason"]) == ("recorded", {}, "worn")
    assert (voided.what, voided.after) == ("voided", {"void_reason": "wrong bike"})
    assert voided.before == recorded.after
    assert [set(line.after) & {"removed_at", "recorded_by", "recorded_at"} for line in fittings] == [
        set()
    ] * 2


def test_a_riders_own_history_keeps_what_they_voided(rider_person, stint, now):
    note = note_feel(by=rider_person, at=now, stint=stint, feel="chatters")
    void_note(by=rider_person, at=now, note=note, reason="another bike")
    void_stint(by=rider_person, at=now, stint=stint, reason="wrong day")

    assert said(rider_person, noun="feel_note") == [("voided", "feel_note"), ("recorded", "feel_note")]
    assert len(said(rider_person, what="voided")) == 4


def test_an_organisation_reads_its_own_matters_and_no_riders_running(
    stock_manager, director, rider_person, fitter, tarn, longfield, stint, wheel_pair, rider, now
):
    share(by=rider_person, rider=rider, organisation=longfield, scope="stints", at=now)
    note_feel(by=rider_person, at=now, stint=stint, feel="chatters", words="private")
    ticket = take_wheels_in(by=fitter, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())
    advance_ticket(by=fitter, ticket=ticket, state="ready")

    of_tarn, of_longfield = ({line.noun for line in told(by)} for by in (stock_manager, director))

    assert of_tarn == {
        "person",
        "organisation",
        "membership",
        "rider",
        "lot",
        "stock_movement",
        "fitting",
        "job_ticket",
    }
    assert of_longfield == {
        "person",
        "organisation",
        "membership",
        "event",
        "group",
        "day",
        "entry",
        "sharing",
    }


@pytest.mark.parametrize("who", ["fitter", "crew", "inspector", "tester", "stranger"])
def test_other_roles_read_only_what_concerns_themselves(request, who, stint, wheel_pair, event):
    person = request.getfixturevalue(who)

    assert set(said(person)) == {("made", "person"), ("granted", "membership")}


def test_nobody_reads_another_organisations_or_riders_history(
    rider_person, stint, other_rider, breckside, longfield, now
):
    rival = somebody("Rolf Crane", breckside, Role.STOCK_MANAGER)
    neighbour = other_rider.person

    assert {line.noun for line in told(rival)} == {"person", "membership", "organisation"}
    assert {line.noun for line in told(neighbour)} == {"person", "rider"}


def test_conditions_and_stock_are_the_organisations(
    director, stock_manager, day, crew, front_lot, rider_person, rider, now
):
    record_conditions(
        by=crew, at=now, day=day, holds_at=now, standing="observed", source="own station", air_c=21.0
    )
    move_stock(
        by=stock_manager,
        at=now,
        lot=front_lot,
        kind="sold",
        place="trailer",
        quantity=-1,
        moved_at=now - timedelta(hours=1),
    )

    weather = told(director, noun="conditions")
    moved = told(stock_manager, noun="stock_movement")
    sold = next(line for line in moved if line.after["kind"] == "sold")

    assert [line.by for line in weather] == ["Corin Bly, Longfield Track Days"]
    assert (sold.by, sold.is_own, sold.after["quantity"]) == ("Sal Whitlow", True, -1)
    assert said(rider_person, noun="conditions") == said(rider_person, noun="stock_movement") == []


def test_a_history_is_narrowed_to_one_thing_and_to_a_time(rider_person, rider, bike, stint, now):
    other = add_bike(by=rider_person, rider=rider, code="b-9", description="125")
    correct_bike(by=rider_person, bike=bike, rake_deg=24.0)

    assert said(rider_person, about=other.pk) == [("made", "bike")]
    assert ("recorded", "stint") in said(rider_person, about=bike.pk)
    assert ("corrected", "bike") in said(rider_person, about=bike.pk)
    assert said(rider_person, since=now, until=now + timedelta(seconds=1), noun="stint") == [
        ("recorded", "stint")
    ]
    assert said(rider_person, until=now) == []


def test_the_key_used_is_named_to_those_who_look_after_it(stock_manager, tarn, rider_person, now):
    key, _ = make_organisation_key(
        by=stock_manager, at=now, organisation=tarn, role=Role.FITTER, name="van scale", scopes=["read"]
    )
    account = key.person
    account.used_key = key
    walk_in = register_rider(by=account, code="r-9", name="Wil Marsh", registered_with=tarn)
    walk_in.person = rider_person
    walk_in.save()

    def line_of(reader):
        return next(line for line in told(reader, about=walk_in.pk))

    assert (line_of(stock_manager).api_key, line_of(stock_manager).on_behalf_of) == ("van scale", tarn)
    assert (line_of(rider_person).api_key, line_of(rider_person).by) == (
        None,
        "van scale, Tarn Tire Service",
    )


def test_who_left_is_not_taken_for_the_rider(stock_manager, fitter, tarn, fitted, now):
    remove_tire(
        by=fitter,
        at=now,
        fitting=fitted["front"],
        removed_at=now,
        reason="worn",
        destination="scrapped",
        vendor=tarn,
    )
    fitter.memberships.all().delete()

    assert told(stock_manager, noun="removal")[0].by == "somebody at Tarn Tire Service"


def test_a_second_role_elsewhere_opens_that_organisation_too(stock_manager, longfield, event):
    before = said(stock_manager, noun="event")
    give_role(by=SERVICE, person=stock_manager, organisation=longfield, role=Role.DIRECTOR)

    assert (before, said(stock_manager, noun="event")) == ([], [("made", "event")])


def test_more_rows_cost_no_more_queries(rider_person, stint, fitted, now):
    def queries():
        with CaptureQueriesContext(connection) as seen:
            told(rider_person)
        return len(seen)

    few = queries()
    for minute in range(5):
        record_tread(
            by=rider_person,
            at=now,
            tire=fitted["front"].tire,
            zone="C",
            taken_at=now - timedelta(minutes=minute),
            depth_mm=4.0,
        )
    first = queries()
    for minute in range(5, 30):
        record_tread(
            by=rider_person,
            at=now,
            tire=fitted["front"].tire,
            zone="C",
            taken_at=now - timedelta(minutes=minute),
            depth_mm=4.0,
        )

    assert queries() == first == few + 1
