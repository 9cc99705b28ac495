"""An archive reads back into an empty service."""

import pytest
from django.db.models import Count

from fleet.exchange.actions import import_folder
from fleet.garage.models import Rider
from fleet.inventory.models import Fitting, Tire
from fleet.life.assessments import assess
from fleet.life.models import Assessment
from fleet.running.models import Stint
from tests.emptying import empty_what_was_written

pytestmark = pytest.mark.django_db(transaction=True)
LIFE = (
    "state",
    "binding_limit",
    "remaining_days_10",
    "remaining_days_50",
    "remaining_days_90",
    "chance_next_day",
    "distance_km",
    "heat_cycles",
    "depth_mm",
    "age_years",
)


def lives(rider):
    return {
        row["tire__label_code"]: [row[name] for name in LIFE]
        # What a tire ran before it was taken over is another rider's.
        for row in Assessment.objects.filter(
            tire__owner=rider, tire__handovers__handed_at=None, is_newest=True
        ).values("tire__label_code", *LIFE)
    }


def busiest():
    """The rider with the most stints among those with a tire from stock and a job ticket."""
    return (
        Rider.objects.filter(tires__lot__isnull=False, bikes__wheel_pairs__tickets__isnull=False)
        .annotate(stints=Count("bikes__wheel_pairs__stints", distinct=True))
        .order_by("-stints", "code")
        .first()
    )


def unpack(files, folder):
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="")
    return folder / "exchange"


def test_an_archive_reads_back_into_an_empty_service_with_the_same_lives(season, archive, at, tmp_path):
    import_folder(season, at=at)
    rider = busiest()
    assess(None, at=at)
    before = lives(rider)
    counts = [
        model.objects.filter(**{path: rider}).count()
        for model, path in (
            (Fitting, "wheel_pair__bike__rider"),
            (Stint, "wheel_pair__bike__rider"),
            (Tire, "owner"),
        )
    ]
    first = archive(rider=rider)
    folder = unpack(first, tmp_path)
    empty_what_was_written()

    report = import_folder(folder, at=at)

    assert report.faults == []
    assert report.stray == []
    back = Rider.objects.get()
    assess(None, at=at)
    assert before
    back_again = lives(back)
    assert {label: back_again[label] for label in before} == before
    assert [model.objects.count() for model in (Fitting, Stint, Tire)] == counts
    again = archive(rider=back)
    exchanged = [name for name in first if name.startswith("exchange/")]
    assert {name: again[name] for name in exchanged} == {name: first[name] for name in exchanged}
