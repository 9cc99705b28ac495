"""Keys that are ids of other people's facts: whoever sends one learns that it is taken, and nothing else."""

from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.garage.actions import add_bike, add_wheel_pair, register_rider


@pytest.fixture
def own_pair(crew):
    """Somebody of an event's crew rides, too."""
    rider = register_rider(by=SERVICE, code="kit", name=crew.name, person=crew)
    bike = add_bike(by=crew, rider=rider, code="kit", description="600 sport")
    return add_wheel_pair(by=crew, bike=bike, code="kit", name="dry")


def test_a_key_that_is_an_entrants_stint_does_not_tell_what_was_ridden(ask, world, crew, own_pair):
    """The crew reads an entrant's pressures and so knows the stint's id; its laps are the rider's own."""
    client = ask(crew)
    known = client.get("/api/v1/pressures").json()["results"][0]["stint"]
    stint = world.rows["stint"]
    assert known == str(stint.pk)

    answers = [
        client.post(
            "/api/v1/stints",
            {
                "key": known,
                "wheel_pair": str(own_pair.pk),
                "started_at": (stint.started_at - timedelta(minutes=minutes)).isoformat(),
                "ended_at": stint.ended_at.isoformat(),
                "laps": laps,
            },
        )
        for laps, minutes in ((stint.laps, 0), (stint.laps + 1, 1))
    ]

    assert [answer.status_code for answer in answers] == [409, 409]
    assert answers[0].json() == answers[1].json()


def test_a_key_of_ones_own_fact_says_what_differs(ask, world, rider_person):
    stint = world.rows["stint"]
    body = {
        "key": str(stint.pk),
        "wheel_pair": str(stint.wheel_pair_id),
        "day": str(stint.day_id),
        "started_at": stint.started_at.isoformat(),
        "ended_at": stint.ended_at.isoformat(),
        "laps": stint.laps + 1,
    }

    answer = ask(rider_person).post("/api/v1/stints", body)

    assert answer.status_code == 409
    assert "(laps differ)" in answer.json()["detail"]
