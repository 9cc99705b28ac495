"""Other units on input: chosen in the address, said in every name, converted exactly, refused when mixed."""

import uuid

import pytest
import yaml

from api.units import OTHERS, quantity_of
from api.v1.urls import DOCUMENT
from fleet.events.models import Conditions
from fleet.garage.models import Bike
from fleet.running.models import PressureReading, Stint, TreadReading

WHEN = "2026-06-12T09:00:00Z"
PRESSURES = "/api/v1/pressures"


@pytest.fixture
def pressure(fitted):
    return {"tire": str(fitted["front"].tire.pk), "moment": "set", "taken_at": WHEN}


@pytest.fixture
def robin(ask, rider_person):
    return ask(rider_person)


def test_a_pressure_in_psi_is_stored_in_kpa_and_answered_so(robin, pressure):
    answer = robin.post(f"{PRESSURES}?units=psi,f", pressure | {"pressure_psi": 30, "tire_f": 77})

    assert answer.status_code == 201
    assert answer.json()["pressure_kpa"] == pytest.approx(206.843, abs=5e-4)
    assert answer.json()["tire_c"] == 25.0
    assert "pressure_psi" not in answer.json()


@pytest.mark.parametrize(
    ("address", "sent", "kpa"),
    [("units=bar", {"pressure_bar": 2.1}, 210.0), ("units=f", {"pressure_kpa": 210, "tire_f": 32}, 210.0)],
)
def test_what_is_not_chosen_stays_si(robin, pressure, address, sent, kpa):
    answer = robin.post(f"{PRESSURES}?{address}", pressure | sent)

    assert answer.json()["pressure_kpa"] == kpa


def test_every_quantity_has_its_unit(robin, ask, director, fitted, wheel_pair, day, rider):
    """Exact by definition: the inch, the mile, the degree Fahrenheit; the inch of mercury to its digits."""
    tire = str(fitted["rear"].tire.pk)
    sent = [
        robin.post(
            "/api/v1/treads?units=inch32", {"tire": tire, "zone": "C", "taken_at": WHEN, "depth_inch32": 7}
        ),
        robin.post(
            "/api/v1/stints?units=mi&units=f",
            {
                "wheel_pair": str(wheel_pair.pk),
                "started_at": WHEN,
                "ended_at": "2026-06-12T09:20:00Z",
                "distance_mi": 10,
                "warmers_f": 176,
            },
        ),
        robin.post(
            "/api/v1/bikes?units=in",
            {
                "rider": str(rider.pk),
                "code": "b-9",
                "description": "600 sport",
                "wheelbase_in": 55,
                "front_rim_in": 3.5,
            },
        ),
        ask(director).post(
            "/api/v1/conditions?units=f,inhg",
            {
                "day": str(day.pk),
                "holds_at": WHEN,
                "standing": "observed",
                "source": "field",
                "air_f": 86,
                "altimeter_inhg": 29.92,
            },
        ),
    ]

    assert [answer.status_code for answer in sent] == [201] * 4, [answer.content for answer in sent]
    assert TreadReading.objects.get().depth_mm == 5.55625
    assert (Stint.objects.get().distance_km, Stint.objects.get().warmers_c) == (16.09344, 80.0)
    assert (Bike.objects.get(code="b-9").wheelbase_mm, Bike.objects.get(code="b-9").front_rim_in) == (
        1397.0,
        3.5,
    )
    assert Conditions.objects.get().air_c == 30.0
    assert Conditions.objects.get().barometer_kpa == pytest.approx(101.32, abs=0.3)


@pytest.mark.parametrize(
    ("address", "sent", "field", "said"),
    [
        ("", {"pressure_psi": 30}, "pressure_psi", "add units=psi to the address"),
        ("?units=psi", {"pressure_kpa": 200}, "pressure_kpa", "give pressure_psi instead"),
        ("?units=psi", {"pressure_psi": 30, "pressure_kpa": 207}, "pressure_kpa", "psi was chosen"),
        ("?units=psi", {"pressure_bar": 2}, "pressure_bar", "Give pressure_psi, or choose the unit"),
        ("?units=psi", {}, "pressure_psi", "required"),
        ("?units=psi", {"pressure_psi": "30"}, "pressure_psi", "number without quotes"),
        ("?units=psi", {"pressure_psi": True}, "pressure_psi", "number without quotes"),
        ("?units=psi", {"pressure_psi": 10**400}, "pressure_psi", "too large"),
        ("?units=psi,bar", {"pressure_psi": 30}, "units", "both units of pressure"),
        ("?units=psi&units=bar", {"pressure_psi": 30}, "units", "both units of pressure"),
        ("?units=PSI", {"pressure_psi": 30}, "units", "choose among psi, bar"),
        ("?units=kpa", {"pressure_kpa": 200}, "units", "or none for SI"),
        ("?units=f", {"pressure_kpa": 200, "tire_f": None, "tire_c": 20}, "tire_c", "give tire_f"),
    ],
)
def test_unknown_and_mixed_units_are_refused_by_field(robin, pressure, address, sent, field, said):
    answer = robin.post(PRESSURES + address, pressure | sent)

    assert (answer.status_code, answer.json()["code"]) == (422, "invalid")
    assert said in " ".join(answer.json()["errors"][field])
    assert not PressureReading.objects.exists()


def test_what_the_domain_refuses_is_named_as_it_was_sent(robin, pressure, fitted):
    too_hard = robin.post(f"{PRESSURES}?units=psi", pressure | {"pressure_psi": 300})
    tread = {"tire": pressure["tire"], "zone": "C", "taken_at": WHEN, "depth_inch32": 20}
    too_deep = robin.post("/api/v1/treads?units=inch32", tread)

    assert list(too_hard.json()["errors"]) == ["pressure_psi"]
    assert list(too_deep.json()["errors"]) == ["depth_inch32"]


def test_a_batch_is_read_in_the_units_of_its_request(robin, pressure):
    good = pressure | {"pressure_psi": 30, "key": str(uuid.uuid4())}
    si = pressure | {"pressure_kpa": 200, "key": str(uuid.uuid4())}
    hard = pressure | {"pressure_psi": 300, "key": str(uuid.uuid4())}

    results = robin.post(f"{PRESSURES}/batch?units=psi", {"items": [good, si, hard]}).json()["results"]

    assert [one["status"] for one in results] == ["created", "refused", "refused"]
    assert set(results[1]["problem"]["errors"]) == {"pressure_kpa", "pressure_psi"}
    assert list(results[2]["problem"]["errors"]) == ["pressure_psi"]
    assert PressureReading.objects.get().pressure_kpa == pytest.approx(206.843, abs=5e-4)


def test_the_same_entry_in_another_unit_is_the_same_fact(robin, pressure):
    key = {"key": str(uuid.uuid4())}

    bar = robin.post(f"{PRESSURES}?units=bar", pressure | key | {"pressure_bar": 2.1})
    kpa = robin.post(PRESSURES, pressure | key | {"pressure_kpa": 210})

    assert (bar.status_code, kpa.status_code) == (201, 201)
    assert PressureReading.objects.count() == 1


def test_a_correction_takes_units_too(robin, bike):
    address = f"/api/v1/bikes/{bike.pk}"
    mark = {"If-Match": robin.get(address)["ETag"]}

    answer = robin.patch(f"{address}?units=in", {"fork_offset_in": 1.25}, headers=mark)

    assert answer.json()["fork_offset_mm"] == 31.75


def test_the_document_says_every_name_in_every_unit():
    document = yaml.safe_load(DOCUMENT.read_text(encoding="utf-8"))
    schemas = document["components"]["schemas"]

    chosen = {
        other.quantity: {name for name, one in OTHERS.items() if one.quantity == other.quantity}
        for other in OTHERS.values()
    }
    for name in (name for name in schemas if name.endswith("In")):
        figures = {
            field: said
            for field, said in schemas[name].get("properties", {}).items()
            if "number" in said.get("type", "") and quantity_of(field)
        }
        for field in figures:
            stem = field.rpartition("_")[0]
            assert {f"{stem}_{unit}" for unit in chosen[quantity_of(field)]} <= set(
                schemas[name]["properties"]
            )
    assert schemas["PressureIn"]["then"] == {"required": ["pressure_kpa"]}
    assert "pressure_kpa" not in schemas["PressureIn"]["required"]
    for operations in document["paths"].values():
        for method, said in operations.items():
            takes = {one["name"] for one in said.get("parameters", [])}
            assert "units" not in takes or method in {"post", "patch", "put"}
    posted = document["paths"]["/api/v1/pressures/batch"]["post"]["parameters"]
    assert "units" in {one["name"] for one in posted}
