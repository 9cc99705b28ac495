"""A thousand submissions, each entry sent twice and all of them shuffled: the same state as each once and in order.

What comes before its time (a reading of a stint that is not there yet) is refused and sent again, with a new idempotency
key and under the same key of the fact, until it is taken.
"""

import random
import uuid
from dataclasses import dataclass, field
from datetime import timedelta

import pytest
from django.db import transaction

from fleet.accounts.policy import SERVICE
from fleet.exchange.writing import export_folder
from fleet.garage.actions import add_wheel_pair
from fleet.inventory.actions import add_own_tire
from fleet.life.assessments import assess
from fleet.life.models import Assessment
from fleet.running.models import Stint

PAIRS, STINTS = 12, 6
SEED = 3
LIFE = ("tire__label_code", "state", "binding_limit", "distance_km", "heat_cycles", "days_run", "depth_mm")
SPREAD = ("readings", "remaining_days_10", "remaining_days_50", "remaining_days_90", "chance_next_day")


@dataclass
class Entry:
    """One thing to write down, with the key it has for good, and what its writer did before it."""

    address: str
    body: dict
    key: str
    needs: list = field(default_factory=list)
    tries: int = 0

    def send(self, client):
        """Send it twice under one idempotency key; return whether it was taken."""
        self.tries += 1
        mark = {"Idempotency-Key": f"{self.key}-{self.tries}"}
        first, second = (client.post(f"/api/v1/{self.address}", self.body, headers=mark) for _ in range(2))
        assert (second.status_code, second.content) == (first.status_code, first.content)
        assert second.headers["Idempotency-Replayed"] == "true"
        assert first.status_code in {200, 201, 404, 409, 422}, first.content
        return first.status_code < 300

    def sent_again_later(self, client):
        """Send it once more as a client does that lost the answer and its idempotency key."""
        answer = client.post(f"/api/v1/{self.address}", self.body)
        assert answer.status_code in {200, 201, 409}, answer.content


def written(address, needs=(), **body):
    """Return an entry with a key of its own; what is voided has the fact's."""
    key = str(uuid.uuid5(uuid.NAMESPACE_OID, f"{address} {sorted(body.items())}"))
    sent = body if address.endswith("/void") else body | {"key": key}
    return Entry(address, sent, key, list(needs))


@pytest.fixture
def sets(rider_person, rider, bike, front_spec, rear_spec, now):
    """Twelve wheel pairs of Robin's with two tires each, still beside the bike."""
    found = []
    for number in range(PAIRS):
        pair = add_wheel_pair(by=SERVICE, bike=bike, code=f"p-{number}", name="dry", is_in_use=False)
        tires = [
            add_own_tire(by=SERVICE, at=now, rider=rider, spec=spec, label_code=f"T{number}-{spec.axle}")
            for spec in (front_spec, rear_spec)
        ]
        found.append((pair, tires))
    return found


def day_of(pair, tires, day, now):
    """Return what is written down about one wheel pair from the first fitting to the last correction, in order."""

    def ago(minutes):
        return (now - timedelta(minutes=minutes)).isoformat()

    ids = {"wheel_pair": str(pair.pk)}
    front, rear = (str(tire.pk) for tire in tires)
    fittings = [
        written("fittings", **ids, axle=axle, fitted_at=ago(290), tire=tire)
        for axle, tire in (("front", front), ("rear", rear))
    ]
    entries = [
        *fittings,
        written("adjustments", **ids, part="rear_preload", after=4, unit="turns", made_at=ago(280)),
    ]
    for number in range(STINTS):
        start = 260 - 40 * number
        times = {"started_at": ago(start), "ended_at": ago(start - 20)}
        stint = written("stints", **ids, **times, day=str(day.pk), laps=8, front_set_kpa=200 + number)
        of = {"stint": stint.key}
        notes = [
            written(
                "pressures",
                **of,
                tire=front,
                moment="in",
                taken_at=ago(start - 21),
                pressure_kpa=231 + number,
            ),
            written(
                "pressures", **of, tire=rear, moment="in", taken_at=ago(start - 21), pressure_kpa=221 + number
            ),
            written(
                "temperatures", **of, tire=rear, zone="C", taken_at=ago(start - 22), surface_c=61 + number
            ),
            written("feel-notes", **of, feel="good"),
        ]
        depth = {"zone": "C", "taken_at": ago(start - 25), "depth_mm": 4.6 - 0.1 * number}
        entries += [stint, *notes, written("treads", tire=front, **depth)]
    wrong = entries[-3]
    entries.append(written(f"{wrong.address}/{wrong.key}/void", needs=[wrong], reason="wrong tire"))
    entries.append(written(f"stints/{stint.key}/void", needs=[*entries], reason="never rode it"))
    removal = {"removed_at": ago(5), "reason": "worn", "destination": "scrapped"}
    return [*entries, written(f"fittings/{fittings[0].key}/removal", needs=[fittings[0]], **removal)]


@pytest.fixture
def entries(sets, entry, day, now):
    return lambda: [one for pair, tires in sets for one in day_of(pair, tires, day, now)]


@pytest.fixture
def state_after(tmp_path, now):
    """Return everything stored and computed after a course of events, which is then undone."""

    def run(name, events):
        with transaction.atomic():
            events()
            assess(None, at=now)
            export_folder(tmp_path / name)
            lives = list(
                Assessment.objects.filter(is_newest=True).order_by("tire__label_code").values(*LIFE, *SPREAD)
            )
            stints = Stint.objects.count()
            transaction.set_rollback(True)
        files = {path.name: path.read_bytes() for path in (tmp_path / name).iterdir()}
        return files, lives, stints

    return run


def in_order(entries, client):
    for one in entries:
        assert one.send(client), one


def shuffled(entries, client, seed):
    """Send what is left in another order again and again; return how often something came too early."""
    chance = random.Random(seed)  # noqa: S311 - an order that can be repeated, no secret
    waiting, taken, early = list(entries), set(), 0
    while waiting:
        chance.shuffle(waiting)
        before = len(taken)
        for one in waiting:
            if not {other.key for other in one.needs} <= taken:
                continue
            if one.send(client):
                taken.add(one.key)
            else:
                early += 1
            if taken and chance.random() < 0.1:
                again = chance.choice([other for other in entries if other.key in taken])
                again.sent_again_later(client)
        waiting = [one for one in waiting if one.key not in taken]
        assert len(taken) > before, waiting[0]
    return early


def test_doubled_and_shuffled_entries_end_in_the_state_of_each_once_in_order(
    ask, rider_person, entries, state_after, settings
):
    settings.API_REQUESTS_PER_MINUTE = 0
    robin = ask(rider_person)
    ordered, mixed = entries(), entries()
    early = []

    expected = state_after("ordered", lambda: in_order(ordered, robin))
    found = state_after("mixed", lambda: early.append(shuffled(mixed, robin, SEED)))

    assert 2 * len(mixed) >= 1000 - 2 * PAIRS
    assert early[0] > 0, "nothing came too early: the order was no other"
    assert expected[2] == PAIRS * STINTS
    assert found[0] == expected[0]
    assert found[1] == expected[1]
