"""The table "Who may see and do what", row by row through the API, where a role could see too much or too little."""

from datetime import timedelta

import pytest

from fleet.accounts.models import Role
from fleet.accounts.policy import SERVICE
from fleet.events.actions import add_day, enter, record_conditions
from fleet.garage.actions import share
from fleet.inventory.models import StockMovement
from fleet.pressures.actions import draft_day

RUNNING = ("stints", "feel-notes", "temperatures", "pressures")
USE = (
    "distance_km",
    "road_km",
    "heat_cycles",
    "days_run",
    "depth_mm",
    "depth_zone",
    "age_years",
    "readings",
    "provenance",
)
ORIGIN = ("lot", "identification", "made_on", "revision")


def rows(client, address):
    return client.get(f"/api/v1/{address}").json()["results"]


def test_sharing_stints_with_an_organiser_shows_them_to_its_tester_only(
    ask, world, rider, rider_person, longfield, crew, director, inspector, tester, now
):
    """Crew and director read pressures of their own days, tech inspection none at all."""
    share(by=rider_person, rider=rider, organisation=longfield, scope="stints", at=now)

    seen = {
        person.name: [len(rows(ask(person), noun)) for noun in RUNNING]
        for person in (crew, director, inspector, tester)
    }

    assert seen == {
        crew.name: [0, 0, 0, 1],
        director.name: [0, 0, 0, 1],
        inspector.name: [0, 0, 0, 0],
        tester.name: [1, 1, 1, 1],
    }


def test_sharing_stints_with_a_vendor_does_not_show_them_at_the_trailer(
    ask, world, rider, rider_person, tarn, fitter, stock_manager, now
):
    share(by=rider_person, rider=rider, organisation=tarn, scope="stints", at=now)

    for person in (fitter, stock_manager):
        assert [rows(ask(person), noun) for noun in ("stints", "feel-notes", "pressures")] == [[], [], []]


def test_the_tester_reads_the_roster_but_no_entrants_tire(ask, world, tester):
    assert {row["rider_name"] for row in rows(ask(tester), "entries")} == {"Robin Vale"}
    assert rows(ask(tester), "tires") == rows(ask(tester), "assessments") == []


@pytest.mark.parametrize("who", ["crew", "director"])
def test_the_crew_read_an_entrants_state_and_limit_but_not_what_was_ridden(ask, request, world, who):
    read = rows(ask(request.getfixturevalue(who)), "assessments")

    assert {row["rider"] for row in read} == {str(world.rider.pk)}
    assert all(row["state"] and row["binding_limit"] for row in read)
    assert all(row[name] is None for row in read for name in USE)


@pytest.mark.parametrize("who", ["crew", "director"])
def test_the_crew_read_an_entrants_tire_without_its_age_and_origin(ask, request, world, who):
    read = rows(ask(request.getfixturevalue(who)), "tires")

    assert {row["owner"] for row in read} == {str(world.rider.pk)}
    assert all(row["label_code"] and row["spec"] for row in read)
    assert all(row[name] is None for row in read for name in ORIGIN)


@pytest.mark.parametrize("who", ["rider_person", "fitter", "inspector"])
def test_rider_vendor_and_tech_inspection_read_a_tires_origin(ask, request, world, who):
    read = rows(ask(request.getfixturevalue(who)), f"tires?rider={world.rider.pk}")
    read = [row for row in read if row["lot"]]  # one of Robin's came from elsewhere

    assert len(read) == 2
    assert all(row["made_on"] and row["revision"] is not None for row in read)


@pytest.mark.parametrize("who", ["rider_person", "fitter", "inspector"])
def test_rider_vendor_and_tech_inspection_read_a_tires_whole_life(ask, request, world, who):
    read = rows(ask(request.getfixturevalue(who)), f"assessments?rider={world.rider.pk}")
    on_wheels = {str(fitting.tire_id) for fitting in world.fitted.values()}
    read = [row for row in read if row["tire"] in on_wheels]

    assert len(read) == 2
    assert all(row[name] is not None for row in read for name in USE if name != "depth_mm")


def test_a_customer_who_is_an_entrant_too_is_read_whole_by_whoever_has_both_roles(ask, world, crew, tarn):
    crew.memberships.create(organisation=tarn, role=Role.FITTER)

    read = rows(ask(crew), f"assessments?rider={world.rider.pk}")

    assert all(row["road_km"] is not None for row in read)


def test_readings_taken_at_a_trailer_are_left_there_by_whoever_leaves_it(ask, world, fitter, tarn):
    client, tire = ask(fitter), world.fitted["front"].tire
    said = {"tire": str(tire.pk), "vendor": str(tarn.pk), "taken_at": "2026-06-12T09:00:00Z"}
    taken = {
        "pressures": {"moment": "set", "pressure_kpa": 210.0},
        "temperatures": {"zone": "C", "surface_c": 60.0},
        "shapes": {"quantity": "roll_out", "length_mm": 1900.0},
    }
    ids = {noun: client.post(f"/api/v1/{noun}", said | more).json()["id"] for noun, more in taken.items()}
    before = {noun: client.get(f"/api/v1/{noun}/{pk}").status_code for noun, pk in ids.items()}
    fitter.memberships.all().delete()

    after = {
        noun: (
            client.get(f"/api/v1/{noun}/{pk}").status_code,
            client.post(f"/api/v1/{noun}/{pk}/void", {"reason": "gone"}).status_code,
        )
        for noun, pk in ids.items()
    }

    assert set(before.values()) == {200}
    assert set(after.values()) == {(404, 404)}


def test_a_draft_of_a_day_long_over_keeps_its_riders_lines_back(ask, world, crew, layout, group, event, now):
    past = add_day(by=SERVICE, event=event, date=now.date() - timedelta(days=40), layout=layout)
    enter(by=SERVICE, day=past, bike=world.wheel_pair.bike, group=group, number="31")
    then = now - timedelta(days=40)
    record_conditions(
        by=SERVICE, at=now, day=past, holds_at=then, standing="observed", source="thermometer", air_c=20.0
    )
    draft_day(by=SERVICE, at=now, day=past)

    lines = ask(crew).get(f"/api/v1/days/{past.pk}/guidance").json()["lines"]

    assert lines
    assert {line["entry"] for line in lines} == {None}


def test_a_count_of_more_tires_than_any_vendor_has_is_refused(ask, world, stock_manager):
    lot = world.rows["lot"]
    body = {
        "lot": str(lot.pk),
        "kind": "counted",
        "place": "store",
        "quantity": 2_000_000_000,
        "moved_at": "2026-06-12T10:00:00Z",
        "reason": "a slip of the thumb",
    }

    answer = ask(stock_manager).post("/api/v1/movements", body)

    assert answer.status_code == 422
    assert "10000" in answer.json()["errors"]["quantity"][0]
    assert not StockMovement.objects.filter(lot=lot, kind="counted").exists()


def test_a_body_too_large_to_read_is_refused_in_the_shape_of_every_refusal(ask, rider_person, rider):
    answer = ask(rider_person).post(
        "/api/v1/stints", b'{"feel": "' + b"x" * 6_000_000 + b'"}', content_type="application/json"
    )

    assert (answer.status_code, answer.json()["code"]) == (400, "malformed")
    assert "5 MB" in answer.json()["detail"]
