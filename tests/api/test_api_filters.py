"""Filters narrow, refuse what they cannot read, and tell nothing about other people's rows."""

import pytest

from api.v1.urls import router


@pytest.fixture
def shown(ask, world):
    def codes(person, address):
        return [row["id"] for row in ask(person).get(f"/api/v1/{address}").json()["results"]]

    return codes


@pytest.fixture
def grown(world):
    """Two of everything; the ids of the first."""
    first = {noun: str(row.pk) for noun, row in world.rows.items()}
    world.grow(1)
    return first


def test_stints_of_a_day(shown, grown, rider_person):
    assert shown(rider_person, f"stints?day={grown['day']}") == [grown["stint"]]


def test_fittings_of_a_rider_that_are_on_now(shown, grown, fitter):
    assert shown(fitter, f"fittings?rider={grown['rider']}&is_on=true") == [grown["fitting"]]


def test_facts_since_and_until(shown, grown, rider_person, world):
    newer = world.rows["stint"].started_at.isoformat().replace("+00:00", "Z")

    assert shown(rider_person, f"stints?since={newer}&is_voided=false") == [
        grown["stint"],
        str(world.rows["stint"].pk),
    ]
    assert shown(rider_person, f"stints?until={newer}") == []


def test_voided_facts_stay_visible_and_can_be_told_apart(ask, shown, grown, rider_person, world):
    ask(rider_person).post(f"/api/v1/stints/{grown['stint']}/void", {"reason": "wrong day"})

    assert shown(rider_person, "stints?is_voided=true") == [grown["stint"]]
    assert shown(rider_person, "stints?is_voided=false") == [str(world.rows["stint"].pk)]


def test_open_holds(ask, shown, grown, fitter, world):
    ask(fitter).post(f"/api/v1/holds/{grown['hold']}/lift", {"reason": "cut is shallow"})

    assert shown(fitter, "holds?is_open=true") == [str(world.rows["hold"].pk)]


def test_doubtful_readings(shown, grown, fitter):
    assert shown(fitter, "treads?is_doubtful=true") == []
    assert grown["tread"] in shown(fitter, "treads?is_doubtful=false")


def test_a_filter_by_somebody_elses_row_finds_what_an_unknown_one_finds(shown, world, stranger):
    never = "00000000-0000-4000-8000-000000000000"

    assert shown(stranger, f"tires?rider={world.rider.pk}") == shown(stranger, f"tires?rider={never}") == []


@pytest.mark.parametrize(
    "query",
    [
        "since=2026-06-12T09:00:00",
        "since=yesterday",
        "since=0001-01-01T00:00:00%2B14:00",
        "rider=27",
        "is_voided=perhaps",
        "riders=27",
        "day=%00",
        "day=",
        "is_voided=true&is_voided=false",
    ],
)
def test_a_filter_that_cannot_be_read_is_refused(ask, rider_person, query):
    answer = ask(rider_person).get(f"/api/v1/stints?{query}")

    assert answer.status_code == 422
    assert list(answer.json()["errors"]) == [query.split("=")[0]]


def test_every_list_refuses_a_filter_it_does_not_know(ask, rider_person):
    client = ask(rider_person)
    lists = {prefix for prefix, view, _ in router.registry if hasattr(view, "list") and prefix != "problems"}

    taken = {prefix for prefix in lists if client.get(f"/api/v1/{prefix}?nonsense=1").status_code != 422}

    assert taken == set()
