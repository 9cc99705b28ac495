"""What the database itself refuses, whoever writes to it: on SQLite and on PostgreSQL alike."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction

from fleet.accounts.policy import SERVICE
from fleet.events.actions import record_conditions
from fleet.garage.actions import add_wheel_pair
from fleet.guards import REFUSALS
from fleet.inventory.models import Fitting, StockMovement, Tire
from fleet.pressures.models import Bulletin, Guidance
from fleet.running.models import Stint

OTHERS = {"pressures_bulletin_frozen"}  # guards that no action runs into, so that no sentence belongs to them


@pytest.fixture
def refused_by():
    """Expect the database to refuse a statement and to name the guard that did."""

    def run(guard, statement):
        with pytest.raises(IntegrityError, match=guard), transaction.atomic():
            statement()

    return run


def guards_of_the_database():
    queries = {
        "sqlite": ["SELECT name FROM sqlite_master WHERE type = 'trigger'"],
        "postgresql": [
            "SELECT conname FROM pg_constraint WHERE contype = 'x'",
            "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal",
        ],
    }
    with connection.cursor() as cursor:
        for query in queries[connection.vendor]:
            cursor.execute(query)
            yield from (name for (name,) in cursor.fetchall())


def test_every_guard_stands_in_the_migrated_database(db):
    standing = {name.removesuffix("_insert").removesuffix("_update") for name in guards_of_the_database()}

    assert standing == set(REFUSALS) | OTHERS


def test_guards_on_insert_and_on_update_both_stand_on_sqlite(db):
    if connection.vendor != "sqlite":
        pytest.skip("one constraint or trigger covers both on PostgreSQL")

    names = list(guards_of_the_database())

    for guard in (
        "inventory_fitting_tire_overlap",
        "inventory_fitting_axle_overlap",
        "running_stint_overlap",
    ):
        assert {f"{guard}_insert", f"{guard}_update"} <= set(names)


@pytest.fixture
def spare(rider, front_spec):
    """A second front of Robin's."""
    return Tire.objects.create(spec=front_spec, owner=rider, label_code="SPARE1")


@pytest.fixture
def fitting_of(wheel_pair, now):
    def make(tire, *, hours_ago, until=None, **changes):
        given = {
            "tire": tire,
            "wheel_pair": wheel_pair,
            "axle": "front",
            "fitted_at": now - timedelta(hours=hours_ago),
            "removed_at": None if until is None else now - timedelta(hours=until),
            "recorded_at": now,
        }
        return Fitting(**(given | changes))

    return make


def test_one_tire_is_not_on_two_wheels(fitted, fitting_of, bike, refused_by):
    wet = add_wheel_pair(by=SERVICE, bike=bike, code="w-2", name="wet")
    again = fitting_of(fitted["front"].tire, hours_ago=1, wheel_pair=wet)

    refused_by("inventory_fitting_tire_overlap", lambda: Fitting.objects.bulk_create([again]))


def test_one_axle_does_not_hold_two_tires(fitted, fitting_of, spare, refused_by):
    second = fitting_of(spare, hours_ago=1)

    refused_by("inventory_fitting_axle_overlap", lambda: Fitting.objects.bulk_create([second]))


@pytest.mark.parametrize(("hours_ago", "until"), [(9, 5), (7, None), (9, 7.5), (7.9, 6.1), (6.5, 5), (8, 6)])
def test_the_past_holds_no_two_tires_either(
    hours_ago, until, fitting_of, spare, rider, front_spec, refused_by
):
    other = Tire.objects.create(spec=front_spec, owner=rider, label_code="SPARE2")
    Fitting.objects.bulk_create([fitting_of(spare, hours_ago=8, until=6)])
    crossing = fitting_of(other, hours_ago=hours_ago, until=until)

    refused_by("inventory_fitting_axle_overlap", lambda: Fitting.objects.bulk_create([crossing]))


def test_fittings_that_touch_are_no_overlap(fitting_of, spare, rider, front_spec):
    other = Tire.objects.create(spec=front_spec, owner=rider, label_code="SPARE2")

    Fitting.objects.bulk_create(
        [
            fitting_of(spare, hours_ago=8, until=6),
            fitting_of(other, hours_ago=6, until=4),
            fitting_of(spare, hours_ago=4),
        ]
    )

    assert Fitting.objects.count() == 3


def test_a_whole_batch_is_refused_with_its_one_overlap(fitting_of, spare, refused_by):
    batch = [fitting_of(spare, hours_ago=8, until=6), fitting_of(spare, hours_ago=7)]

    refused_by("overlap", lambda: Fitting.objects.bulk_create(batch))

    assert not Fitting.objects.exists()


def test_a_fitting_is_not_moved_or_reopened_over_another(
    fitting_of, spare, rider, front_spec, now, refused_by
):
    other = Tire.objects.create(spec=front_spec, owner=rider, label_code="SPARE2")
    first, _ = Fitting.objects.bulk_create(
        [fitting_of(spare, hours_ago=8, until=6), fitting_of(other, hours_ago=6)]
    )
    rows = Fitting.objects.filter(pk=first.pk)

    refused_by("axle_overlap", lambda: rows.update(removed_at=None))
    refused_by("axle_overlap", lambda: rows.update(removed_at=now - timedelta(hours=5)))


def test_a_voided_fitting_is_in_nobodys_way_and_cannot_come_back(fitting_of, spare, fitted, now, refused_by):
    voided = fitting_of(spare, hours_ago=1, voided_at=now, void_reason="wrong wheel")
    Fitting.objects.bulk_create([voided])

    refused_by(
        "inventory_fitting_axle_overlap",
        lambda: Fitting.objects.filter(pk=voided.pk).update(voided_at=None, void_reason=""),
    )


def test_a_tire_is_not_removed_before_it_was_fitted(fitted, now, refused_by):
    rows = Fitting.objects.filter(pk=fitted["front"].pk)

    refused_by(
        "inventory_fitting_ends_after_it_starts|range lower bound",
        lambda: rows.update(removed_at=now - timedelta(days=1)),
    )


def test_stock_does_not_fall_below_zero(front_lot, now, refused_by):
    line = {"lot": front_lot, "place": "trailer", "moved_at": now, "recorded_at": now}
    too_many = StockMovement(kind="sold", quantity=-5, **line)
    last_four_and_one = [StockMovement(kind="sold", quantity=q, **line) for q in (-4, -1)]
    guard = "inventory_stockmovement_not_below_zero"

    refused_by(guard, lambda: StockMovement.objects.bulk_create([too_many]))
    refused_by(guard, lambda: StockMovement.objects.bulk_create(last_four_and_one))

    StockMovement.objects.bulk_create(last_four_and_one[:1])
    refused_by(guard, lambda: StockMovement.objects.filter(kind="received").update(quantity=3))
    refused_by(
        guard,
        lambda: StockMovement.objects.filter(kind="received").update(voided_at=now, void_reason="slip"),
    )


def test_each_place_of_a_lot_counts_for_itself(front_lot, now, refused_by):
    from_the_store = StockMovement(
        lot=front_lot, kind="sold", place="store", quantity=-1, moved_at=now, recorded_at=now
    )

    refused_by("not_below_zero", lambda: StockMovement.objects.bulk_create([from_the_store]))


def test_stints_of_a_wheel_pair_do_not_overlap(stint, wheel_pair, now, refused_by):
    crossing = Stint(
        wheel_pair=wheel_pair,
        started_at=stint.ended_at - timedelta(minutes=1),
        ended_at=now,
        distance_km=5.0,
        recorded_at=now,
    )
    refused_by("running_stint_overlap", lambda: Stint.objects.bulk_create([crossing]))

    crossing.started_at = stint.ended_at
    Stint.objects.bulk_create([crossing])
    refused_by(
        "running_stint_overlap",
        lambda: Stint.objects.filter(pk=crossing.pk).update(started_at=stint.started_at),
    )


def test_no_stint_is_left_without_a_tire_it_ran_on(stint, fitted, now, refused_by):
    rows = Fitting.objects.filter(pk=fitted["rear"].pk)
    during = stint.started_at + timedelta(minutes=5)
    guard = "running_stint_keeps_its_tires"

    refused_by(guard, lambda: rows.update(removed_at=during))
    refused_by(guard, lambda: rows.update(fitted_at=during))
    refused_by(guard, lambda: rows.update(voided_at=now, void_reason="wrong tire"))

    assert rows.update(removed_at=stint.ended_at) == 1


@pytest.fixture
def bulletin(day, now):
    """A bulletin as a row alone: what the database guards does not depend on how it was computed."""
    conditions = record_conditions(
        by=SERVICE, at=now, day=day, holds_at=now, standing="observed", source="paddock", air_c=24.0
    )
    guidance = Guidance.objects.create(
        day=day, fingerprint="f", computed_at=now, conditions=conditions, assumptions=[]
    )
    return Bulletin.objects.create(
        day=day, number=1, guidance=guidance, content={"lines": [1]}, digest="d", issued_at=now
    )


@pytest.mark.parametrize(
    "change",
    [
        {"content": {"lines": [2]}},
        {"number": 2},
        {"digest": "e"},
        {"issued_at": "2026-06-01T00:00:00Z"},
    ],
)
def test_an_issued_bulletin_is_never_edited(change, bulletin, refused_by):
    refused_by("pressures_bulletin_frozen", lambda: Bulletin.objects.update(**change))

    kept = Bulletin.objects.get()
    assert (kept.content, kept.number) == ({"lines": [1]}, 1)


def test_an_issued_bulletin_may_be_superseded_or_withdrawn(bulletin, now):
    Bulletin.objects.update(superseded_at=now)

    assert Bulletin.objects.update(withdrawn_at=now, withdrawn_because="the wrong track") == 1
