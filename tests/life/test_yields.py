"""What tires gave: wear and money a day, beside one's own, and beside at least five others without names."""

from datetime import timedelta
from decimal import Decimal

import pytest

from fleet.accounts.policy import SERVICE
from fleet.garage.actions import add_bike, add_wheel_pair, register_rider
from fleet.inventory.actions import fit_tire, remove_tire
from fleet.inventory.models import StockMovement, Tire
from fleet.life.assessments import assess
from fleet.life.models import Assessment
from fleet.life.yields import FEWEST_OTHERS, others_cost, others_on, yields_of
from tests.conftest import delivery


@pytest.fixture
def worn(fitted, ride, measure, now):
    """A rear tire after one day, 40 km in ten laps, half a millimetre down."""
    ride(minutes_ago=150, km=40.0, laps=10)
    measure(fitted["rear"], 5.5)
    assess(None, at=now)
    return fitted["rear"].tire


def test_wear_is_told_by_day_and_by_lap(worn, rider):
    [found] = yields_of(rider, "rear")

    assert (found.tire, found.days_run, found.laps) == (worn, 1, 10)
    assert found.worn_mm_per_day == pytest.approx(0.5)
    assert found.worn_mm_per_lap == pytest.approx(0.05)


def test_a_day_costs_the_price_over_the_days_run_and_left(worn, rider):
    StockMovement.objects.filter(fitting__tire=worn).update(unit_price=Decimal("200.00"))
    left = Assessment.objects.get(tire=worn, is_newest=True).remaining_days_50

    [found] = yields_of(rider, "rear")

    assert found.days == pytest.approx(1 + left)
    assert float(found.cost_per_day) == pytest.approx(200.0 / (1 + left), abs=0.01)


def test_without_a_price_or_a_reading_nothing_is_invented(fitted, ride, rider, now):
    ride(minutes_ago=150, km=40.0)
    assess(None, at=now)

    [found] = yields_of(rider, "rear")

    assert (found.cost_per_day, found.worn_mm_per_day, found.worn_mm_per_lap) == (None, None, None)


def copy_of(model, tire):
    return Assessment(
        **{
            field.attname: getattr(model, field.attname)
            for field in Assessment._meta.concrete_fields
            if field.name not in ("id", "tire")
        },
        tire=tire,
    )


@pytest.fixture
def others(rear_spec, worn):
    """Let so many other riders wear the same tire, the first by 0.1 mm a day, the next by 0.2 and so on."""
    model = Assessment.objects.get(tire=worn, is_newest=True)

    def ride_on(riders):
        for number in range(1, riders + 1):
            code = f"o-{number}"
            owner = register_rider(by=SERVICE, code=code, name=f"Other {number}")
            tire = Tire.objects.create(owner=owner, spec=rear_spec, label_code=f"OTHER{number:03d}")
            row = copy_of(model, tire)
            row.depth_mm = 6.0 - number / 10
            row.save(force_insert=True)

    return ride_on


def test_fewer_than_five_others_stay_untold(worn, others):
    others(FEWEST_OTHERS - 1)

    assert others_on(worn) is None


def test_five_others_are_told_by_their_middle_half(worn, others):
    others(FEWEST_OTHERS)

    found = others_on(worn)

    assert found.riders == 5
    assert found.worn_mm_per_day == pytest.approx((0.2, 0.3, 0.4))


def test_a_rider_counts_once_however_many_tires(worn, others):
    others(FEWEST_OTHERS - 1)
    twice = Tire.objects.get(label_code="OTHER001")
    second = Tire.objects.create(owner=twice.owner, spec=twice.spec, label_code="OTHER099")
    copy_of(Assessment.objects.get(tire=twice), second).save(force_insert=True)

    assert others_on(worn) is None


def test_many_tires_ask_the_database_no_more_often(worn, rider, django_assert_num_queries):
    with django_assert_num_queries(4):
        yields_of(rider, "rear")


@pytest.fixture
def paying(worn, tarn, rear_spec, now):
    """Let so many other riders pay 110, 120 and so on for the same tire and use it up on one day."""
    model = Assessment.objects.get(tire=worn, is_newest=True)
    lot = delivery(tarn, rear_spec, "many", now, quantity=20)

    def ride_on(riders, paid_by="o"):
        for number in range(1, riders + 1):
            rider = register_rider(by=SERVICE, code=f"{paid_by}-{number}", name=f"Other {number}")
            bike = add_bike(by=SERVICE, rider=rider, code=f"{paid_by}-{number}", description="600 sport")
            pair = add_wheel_pair(by=SERVICE, bike=bike, code=f"{paid_by}-{number}", name="dry")
            fitting = fit_tire(
                by=SERVICE, at=now, wheel_pair=pair, axle="rear", fitted_at=now - timedelta(hours=3), lot=lot,
                unit_price=Decimal(100 + 10 * number),
            )  # fmt: skip
            remove_tire(
                by=SERVICE, at=now, fitting=fitting, removed_at=now - timedelta(hours=1), reason="worn",
                destination="scrapped",
            )  # fmt: skip
            copy_of(model, fitting.tire).save(force_insert=True)

    return ride_on


def test_what_a_day_costs_others_is_told_from_five_riders_on_by_their_middle_half(worn, paying, tarn):
    paying(FEWEST_OTHERS)

    found = others_cost(worn)

    # By hand: five prices of 110 to 150 over one day each; the middle half of five values is the second to the fourth.
    assert (found.riders, found.currency) == (5, tarn.currency)
    assert found.per_day == (Decimal("120.00"), Decimal("130.00"), Decimal("140.00"))


def test_fewer_than_five_payers_stay_untold_also_beside_those_without_a_price(worn, paying, others):
    paying(FEWEST_OTHERS - 1, paid_by="p")
    others(3)

    assert others_cost(worn) is None


def test_ones_own_price_is_not_among_the_others(worn, paying):
    StockMovement.objects.filter(fitting__tire=worn).update(unit_price=Decimal("200.00"))
    paying(FEWEST_OTHERS - 1)

    assert others_cost(worn) is None


def test_the_cost_of_others_asks_three_questions(worn, paying, django_assert_num_queries):
    paying(FEWEST_OTHERS)

    with django_assert_num_queries(3):
        others_cost(worn)
