"""An archive reads back into an empty service, and says nothing of anybody else."""

import io

import pytest
from django.core.management import call_command
from django.db import connection
from django.db.models import Count
from django.test.utils import CaptureQueriesContext

from fleet.accounts.models import Person
from fleet.accounts.policy import SERVICE
from fleet.exchange.actions import import_folder
from fleet.exchange.folder import SHEETS
from fleet.garage.models import Bike, Rider, WheelPair
from fleet.inventory.models import Fitting, Lot, Tire
from fleet.life.assessments import assess
from fleet.life.models import Assessment
from fleet.privacy.actions import take_out
from fleet.privacy.narrowed import LEFT_OUT
from fleet.running.models import Stint

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
    call_command("flush", interactive=False, verbosity=0)

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


def test_the_archive_holds_no_other_person_and_no_stock(season, archive, at):
    import_folder(season, at=at)
    rider = busiest()

    text = "\n".join(archive(rider=rider).values())

    others = Rider.objects.exclude(pk=rider.pk)
    told = {*others.values_list("name", flat=True)}
    people = Person.objects.exclude(pk=rider.person_id)
    told |= {*people.values_list("name", flat=True), *people.values_list("email", flat=True)}
    codes = {
        *others.values_list("code", flat=True),
        *Bike.objects.exclude(rider=rider).values_list("code", flat=True),
        *WheelPair.objects.exclude(bike__rider=rider).values_list("code", flat=True),
        *Tire.objects.exclude(owner=rider).values_list("label_code", flat=True),
    }
    assert rider.name in text
    assert len(told) > 50
    assert [one for one in told - {rider.name} if one in text] == []
    cells = set(text.replace("\n", ",").replace("\r", ",").split(","))
    assert rider.code in cells
    assert cells & codes == set()
    costs = {f"{cost:.2f}" for cost in Lot.objects.values_list("unit_cost", flat=True) if cost}
    assert costs
    assert cells & costs == set()


def test_an_archive_asks_the_same_number_of_questions_however_much_was_logged(season, at):
    import_folder(season, at=at)
    asked = []
    for rider in (busiest(), Rider.objects.exclude(person=None).exclude(pk=busiest().pk).first()):
        with CaptureQueriesContext(connection) as captured:
            take_out(by=SERVICE, at=at, file=io.BytesIO(), rider=rider)
        asked.append(len([one for one in captured if one["sql"].startswith("SELECT")]))

    assert asked[0] == asked[1]
    assert asked[0] < 120


def test_every_file_of_the_exchange_is_in_it_or_left_out_for_a_reason(season, archive, at):
    import_folder(season, at=at)

    files = archive(rider=busiest())

    exchanged = {name.removeprefix("exchange/") for name in files if name.startswith("exchange/")}
    assert exchanged == {sheet.file for sheet in SHEETS if sheet.name not in LEFT_OUT}
    assert all(LEFT_OUT.values())
