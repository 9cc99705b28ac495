"""What is done to rows that stand: void, lift, acknowledge, use, withdraw."""

import pytest

from fleet.inventory.queries import left_at


@pytest.fixture
def done(ask):
    def post(person, address, status=200, **body):
        answer = ask(person).post(f"/api/v1/{address}", body)
        assert answer.status_code == status, answer.content
        return answer.json() if answer.content else None

    return post


def test_a_fitting_voided_goes_back_into_stock(done, world, fitter):
    before = left_at(world.rows["lot"], "trailer")

    voided = done(fitter, f"fittings/{world.rows['fitting'].pk}/void", reason="wrong wheel")

    assert voided["void_reason"] == "wrong wheel"
    assert left_at(world.rows["lot"], "trailer") == before + 1


def test_voiding_twice_is_refused(ask, done, world, rider_person):
    address = f"feel-notes/{world.rows['feel-note'].pk}/void"
    done(rider_person, address, reason="another stint")

    answer = ask(rider_person).post(f"/api/v1/{address}", {"reason": "again"})

    assert (answer.status_code, answer.json()["code"]) == (409, "already-voided")


@pytest.mark.parametrize("noun", ["pressure", "temperature", "stint"])
def test_riders_void_their_own_facts(done, world, rider_person, noun):
    assert done(rider_person, f"{noun}s/{world.rows[noun].pk}/void", reason="slip of the pen")["voided_at"]


def test_a_removal_ends_a_fitting_and_voiding_it_puts_the_tire_back(done, world, fitter, tarn):
    fitting = world.rows["fitting"]
    removal = done(
        fitter,
        f"fittings/{fitting.pk}/removal",
        201,
        removed_at="2026-06-12T10:30:00Z",
        reason="worn",
        destination="scrapped",
        vendor=str(tarn.pk),
    )
    fitting.refresh_from_db()
    assert fitting.removed_at is not None

    done(fitter, f"removals/{removal['id']}/void", reason="wrong bike", vendor=str(tarn.pk))

    fitting.refresh_from_db()
    assert fitting.removed_at is None


def test_a_flag_is_acknowledged_once(ask, done, world, fitter):
    address = f"flags/{world.rows['flag'].pk}/acknowledge"
    assert done(fitter, address)["acknowledged_by"] == str(fitter.pk)

    assert ask(fitter).post(f"/api/v1/{address}").status_code == 409


def test_a_second_wheel_pair_put_in_use_puts_the_first_aside(ask, done, wheel_pair, bike, rider_person):
    wet = done(rider_person, "wheel-pairs", 201, bike=str(bike.pk), code="w-002", name="wet", is_in_use=False)

    read = ask(rider_person).get(f"/api/v1/wheel-pairs/{wet['id']}")
    ask(rider_person).post(f"/api/v1/wheel-pairs/{wet['id']}/use", HTTP_IF_MATCH=read["ETag"])

    rows = ask(rider_person).get("/api/v1/wheel-pairs?is_in_use=true").json()["results"]
    assert [row["id"] for row in rows] == [wet["id"]]


def test_an_entry_withdrawn_is_gone(ask, done, world, director):
    entry = world.rows["entry"].pk

    done(director, f"entries/{entry}/withdraw", 204)

    assert ask(director).get(f"/api/v1/entries/{entry}").status_code == 404


def test_conditions_by_numbers_estimate_what_was_not_measured(done, world, director):
    row = done(
        director,
        "conditions",
        201,
        day=str(world.rows["day"].pk),
        holds_at="2026-06-12T10:30:00Z",
        standing="observed",
        source="pit wall thermometer",
        air_c=24.5,
    )

    assert row["barometer_standing"] == row["track_surface_standing"] == "estimated"
    assert done(director, f"conditions/{row['id']}/void", reason="in the sun")["voided_at"]


def test_walk_ins_and_what_they_own_are_registered_at_the_trailer(done, fitter, tarn, front_spec):
    rider = done(fitter, "riders", 201, code="r-900", name="Wren Fallow", registered_with=str(tarn.pk))
    bike = done(fitter, "bikes", 201, rider=rider["id"], code="b-900", description="600 sport", rake_deg=24)
    pair = done(fitter, "wheel-pairs", 201, bike=bike["id"], code="w-900", name="dry")
    tire = done(
        fitter,
        "tires",
        201,
        rider=rider["id"],
        spec=str(front_spec.pk),
        identification="0826",
        vendor=str(tarn.pk),
    )
    gauge = done(
        fitter,
        "instruments",
        201,
        code="g-900",
        name="Trailer gauge",
        kind="pressure",
        organisation=str(tarn.pk),
        step_kpa=1,
        offset_kpa=2.5,
    )
    assert (pair["rider"], pair["is_in_use"], tire["axle"]) == (rider["id"], True, "front")

    reading = done(
        fitter,
        "pressures",
        201,
        tire=tire["id"],
        moment="set",
        taken_at="2026-06-12T10:00:00Z",
        pressure_kpa=202.5,
        instrument=gauge["id"],
        vendor=str(tarn.pk),
    )

    assert reading["pressure_kpa"] == 200.0


def test_a_surface_note_and_a_temperature_of_ones_own_tire(done, fitted, rider_person):
    tire = str(fitted["rear"].tire.pk)

    done(
        rider_person,
        "surface-notes",
        201,
        tire=tire,
        look="cold_tear",
        seen_at="2026-06-12T10:00:00Z",
        zone="R1",
    )
    done(
        rider_person,
        "temperatures",
        201,
        tire=tire,
        zone="R1",
        taken_at="2026-06-12T10:00:00Z",
        surface_c=64.5,
    )


def test_a_count_and_a_hold_and_a_stray_ledger_line(ask, done, world, stock_manager, fitter, tarn):
    lot = world.rows["lot"]
    when = "2026-06-12T10:00:00Z"
    counted = done(
        stock_manager,
        "movements",
        201,
        lot=str(lot.pk),
        kind="counted",
        place="trailer",
        quantity=-1,
        moved_at=when,
        reason="one missing",
    )
    hold = done(
        fitter,
        "holds",
        201,
        tire=str(world.rows["tire"].pk),
        placed_for=str(tarn.pk),
        reason="damage",
        placed_at=when,
    )
    fitted = ask(stock_manager).post("/api/v1/movements", {"lot": str(lot.pk), "kind": "fitted"})

    assert (counted["quantity"], hold["placed_for_name"]) == (-1, "Tarn Tire Service")
    assert "kind" in fitted.json()["errors"]


def test_me_says_who_asks(ask, fitter, rider_person, rider, tarn):
    assert ask(rider_person).get("/api/v1/me").json()["rider"] == str(rider.pk)

    me = ask(fitter).get("/api/v1/me").json()

    assert me["rider"] is None
    assert me["roles"] == [
        {"organisation": str(tarn.pk), "organisation_name": "Tarn Tire Service", "role": "fitter"}
    ]


def test_a_public_bulletin_needs_its_code_and_names_nobody(ask, world):
    code = world.rows["day"].public_code

    found = ask().get(f"/api/v1/public/bulletins/{code}").json()

    assert set(found) == {"number", "issued_at", "digest", "content"}
    assert "Robin" not in str(found)
    assert ask().get(f"/api/v1/public/bulletins/{code}x").status_code == 404
