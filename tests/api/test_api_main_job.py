"""The main job over the API alone: stock in, wheels in, fit, stint, life, conditions, draft, bulletin, rider."""

from datetime import date

import pytest

from fleet.accounts.policy import SERVICE
from fleet.events.actions import add_day, add_group, enter, plan_event
from fleet.life.tasks import assess_changed


@pytest.fixture
def regular(longfield, layout, bike):
    """Robin rode with Longfield in May, so its crew may enter Robin's bike."""
    event = plan_event(by=SERVICE, organiser=longfield, code="may", name="Longfield May")
    day = add_day(by=SERVICE, event=event, date=date(2026, 5, 15), layout=layout)
    group = add_group(by=SERVICE, event=event, name="Fast")
    return enter(by=SERVICE, day=day, bike=bike, group=group, number="27")


class Caller:
    """Somebody who posts and reads, and expects it to work."""

    def __init__(self, client):
        self.client = client

    def post(self, address, status=201, **body):
        answer = self.client.post(f"/api/v1/{address}", body)
        assert answer.status_code == status, answer.content
        return answer.json() if answer.content else None

    def change(self, row, verb, **body):
        """Change a row as it was just read."""
        read = self.client.get(f"/api/v1/{row}")
        answer = self.client.post(f"/api/v1/{row}/{verb}", body, HTTP_IF_MATCH=read["ETag"])
        assert answer.status_code == 200, answer.content
        return answer.json()

    def get(self, address):
        answer = self.client.get(f"/api/v1/{address}")
        assert answer.status_code == 200, answer.content
        return answer.json()


def stock_in(manager, specs, tarn):
    lots = {}
    for axle, spec in specs.items():
        lot = manager.post(
            "lots",
            vendor=str(tarn.pk),
            spec=str(spec.pk),
            code=f"june-{axle}",
            date_code="0826",
            quantity=4,
            received_at="2026-06-10T08:00:00Z",
            unit_cost="84.50",
        )
        loaded = manager.post(
            f"lots/{lot['id']}/load", 200, quantity=3, loaded_at="2026-06-11T18:00:00+01:00"
        )
        assert (loaded["in_store"], loaded["on_trailer"]) == (1, 3)
        lots[axle] = lot["id"]
    return lots


def fit(fitter, lots, tarn, wheel_pair):
    ticket = fitter.post(
        "tickets", vendor=str(tarn.pk), wheel_pair=str(wheel_pair.pk), opened_on="2026-06-12", wish="both"
    )
    fitter.change(f"tickets/{ticket['id']}", "state", state="on_machine")
    fitted = {
        axle: fitter.post(
            "fittings",
            wheel_pair=str(wheel_pair.pk),
            axle=axle,
            fitted_at="2026-06-12T07:00:00Z",
            lot=lot,
            ticket=ticket["id"],
        )
        for axle, lot in lots.items()
    }
    assert fitter.change(f"tickets/{ticket['id']}", "state", state="ready")["state"] == "ready"
    assert [fitter.get(f"lots/{lot}")["on_trailer"] for lot in lots.values()] == [2, 2]
    return fitted


def plan(director, robin, longfield, layout, bike):
    event = director.post(
        "events", organiser=str(longfield.pk), code="june", name="Longfield June", takes_entries=True
    )
    day = director.post("days", event=event["id"], date="2026-06-12", layout=str(layout.pk))
    group = director.post("groups", event=event["id"], name="Fast", usual_lap_s=112)
    director.post(
        "slots",
        day=day["id"],
        group=group["id"],
        starts_at="2026-06-12T11:30:00Z",
        ends_at="2026-06-12T11:50:00Z",
    )
    robin.post("entries", day=day["id"], bike=str(bike.pk), group=group["id"], number="27")
    director.post("conditions/metar", day=day["id"], metar="METAR XXXX 121050Z 24008KT CAVOK 31/12 Q1016")
    return day


@pytest.fixture
def specs(front_spec, rear_spec):
    return {"front": front_spec, "rear": rear_spec}


@pytest.fixture
def callers(ask, stock_manager, fitter, rider_person, director):
    return [Caller(ask(person)) for person in (stock_manager, fitter, rider_person, director, None)]


def test_from_a_delivery_to_the_riders_pressure(
    callers, tarn, longfield, specs, wheel_pair, bike, layout, regular
):
    manager, trailer, robin, desk, anyone = callers

    lots = stock_in(manager, specs, tarn)
    fitted = fit(trailer, lots, tarn, wheel_pair)
    day = plan(desk, robin, longfield, layout, bike)
    stint = robin.post(
        "stints",
        wheel_pair=str(wheel_pair.pk),
        day=day["id"],
        started_at="2026-06-12T09:00:00Z",
        ended_at="2026-06-12T09:20:00Z",
        laps=9,
        front_set_kpa=200,
        rear_set_kpa=185,
        front_in_kpa=235,
        rear_in_kpa=225,
        feel="good",
    )
    assert stint["distance_km"] == pytest.approx(9 * 4.12)
    trailer.post(
        "treads",
        tire=fitted["rear"]["tire"],
        zone="C",
        taken_at="2026-06-12T09:40:00Z",
        depth_mm=5.6,
        vendor=str(tarn.pk),
    )

    assess_changed()
    lives = {row["tire"]: row for row in robin.get("assessments")["results"]}
    assert set(lives) == {fitting["tire"] for fitting in fitted.values()}
    rear = lives[fitted["rear"]["tire"]]
    assert rear["distance_km"] == stint["distance_km"]
    assert rear["remaining_days_10"] <= rear["remaining_days_50"] <= rear["remaining_days_90"]
    assert rear["readings"] == 1
    assert {row["tire"] for row in desk.get("assessments")["results"]} == set(lives)

    draft = desk.post(f"days/{day['id']}/draft")
    own = robin.get(f"days/{day['id']}/own-lines")
    assert [line["axle"] for line in own] == ["front", "rear"]
    assert {line["id"] for line in own} <= {line["id"] for line in draft["lines"]}
    assert all(line["low_kpa"] < line["start_kpa"] < line["high_kpa"] for line in own)

    bulletin = desk.post(f"days/{day['id']}/bulletins", guidance=draft["id"])
    assert (bulletin["number"], bulletin["content"]["conditions"]["air_c"]) == (1, 31.0)
    assert [row["id"] for row in robin.get("bulletins")["results"]] == [bulletin["id"]]

    public = anyone.get(f"public/bulletins/{day['public_code']}")
    assert public["content"] == bulletin["content"]
    assert "Robin" not in str(public)
    assert "Dara" not in str(public)

    withdrawn = desk.post(f"bulletins/{bulletin['id']}/withdraw", 200, reason="wrong air")
    assert withdrawn["withdrawn_because"] == "wrong air"
    assert anyone.client.get(f"/api/v1/public/bulletins/{day['public_code']}").status_code == 404
