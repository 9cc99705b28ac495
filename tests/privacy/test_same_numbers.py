"""After an erasure every figure about tires is what it was: lives, what was learned, stock, holds."""

import pytest

from fleet.accounts.policy import SERVICE
from fleet.exchange.actions import import_folder
from fleet.exchange.writing import export_folder
from fleet.garage.models import Rider
from fleet.inventory.models import Fitting, Hold, Lot, Removal, StockMovement, Tire
from fleet.inventory.queries import left_at
from fleet.life.assessments import assess
from fleet.life.learning import learn
from fleet.life.models import Assessment, LearnedModel
from fleet.privacy.actions import erase
from fleet.privacy.errors import WheelsAtTheTrailer
from fleet.running.models import PressureReading, Stint, TreadReading
from tests.privacy.test_nothing_left import left_of
from tests.privacy.test_round_trip import LIFE, busiest

pytestmark = pytest.mark.django_db(transaction=True)
RECALLED = (
    "tire__lot__code",
    "tire__lot__date_code",
    "tire__label_code",
    "fitted_at",
    "removed_at",
    "voided_at",
)


def lives():
    return {
        row["tire__label_code"]: [row[name] for name in LIFE]
        for row in Assessment.objects.filter(is_newest=True).values("tire__label_code", *LIFE)
    }


def stock():
    return {lot.pk: [left_at(lot, place) for place in ("store", "trailer")] for lot in Lot.objects.all()}


def counts():
    kinds = (Fitting, Removal, Hold, StockMovement, Tire, Stint, PressureReading, TreadReading)
    return [model.objects.count() for model in kinds]


def recalled():
    """Every tire of every lot with when it was on a wheel: what a recall goes by."""
    return sorted(Fitting.objects.filter(tire__lot__isnull=False).values_list(*RECALLED), key=str)


def learned():
    return {row.subject: row for row in LearnedModel.objects.order_by("learned_at")}


def test_lives_stock_recalls_and_what_is_learned_are_the_same_after_an_erasure(season, at, tmp_path):
    import_folder(season, at=at)
    rider = busiest()
    rider.bikes.first().wheel_pairs.first().tickets.update(state="collected")
    for subject in LearnedModel.Subject.values:
        learn(subject, at=at)
    assess(None, at=at)
    before = (lives(), stock(), counts(), recalled())
    spreads, levels = ({s: row.spreads for s, row in learned().items()}, learned()["wear"].levels["rider"])
    assert rider.code in levels
    told = [rider.name, rider.code, rider.person.email, *rider.bikes.values_list("code", flat=True)]

    erase(by=SERVICE, at=at, rider=rider)

    assess(None, at=at)
    assert (lives(), stock(), counts(), recalled()) == before
    assert left_of(told) == []
    gone = Rider.objects.get(pk=rider.pk)
    assert learned()["wear"].levels["rider"] == [gone.code if one == rider.code else one for one in levels]
    for subject in LearnedModel.Subject.values:
        again = learn(subject, at=at)
        assert again.rows == learned()[subject].rows
        for kind, figures in spreads[subject].items():
            assert again.spreads[kind] == pytest.approx(figures, rel=1e-3)
    export_folder(tmp_path / "all")
    assert rider.name not in (tmp_path / "all" / "riders.csv").read_text(encoding="utf-8")


def test_wheels_at_the_trailer_are_collected_first(season, at):
    import_folder(season, at=at)
    rider = busiest()
    rider.bikes.first().wheel_pairs.first().tickets.update(state="ready")

    with pytest.raises(WheelsAtTheTrailer, match="collect them first"):
        erase(by=SERVICE, at=at, rider=rider)

    rider.refresh_from_db()
    assert not rider.code.startswith("erased")
