"""What is in an archive: all of one rider, and nothing of anybody else."""

import io

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.accounts.models import Person
from fleet.accounts.policy import SERVICE
from fleet.exchange.actions import import_folder
from fleet.exchange.folder import SHEETS
from fleet.garage.models import Bike, Rider, WheelPair
from fleet.inventory.models import Lot, Tire
from fleet.privacy.actions import take_out
from fleet.privacy.narrowed import LEFT_OUT
from tests.privacy.conftest import AT
from tests.privacy.test_round_trip import busiest


@pytest.fixture(scope="module")
def imported(kept_for_the_module, season):
    import_folder(season, at=AT)


def test_the_archive_holds_no_other_person_and_no_stock(db, imported, archive):
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


def test_an_archive_asks_the_same_number_of_questions_however_much_was_logged(db, imported, at):
    asked = []
    for rider in (busiest(), Rider.objects.exclude(person=None).exclude(pk=busiest().pk).first()):
        with CaptureQueriesContext(connection) as captured:
            take_out(by=SERVICE, at=at, file=io.BytesIO(), rider=rider)
        asked.append(len([one for one in captured if one["sql"].startswith("SELECT")]))

    assert asked[0] == asked[1]
    assert asked[0] < 120


def test_every_file_of_the_exchange_is_in_it_or_left_out_for_a_reason(db, imported, archive):
    files = archive(rider=busiest())

    exchanged = {name.removeprefix("exchange/") for name in files if name.startswith("exchange/")}
    assert exchanged == {sheet.file for sheet in SHEETS if sheet.name not in LEFT_OUT}
    assert all(LEFT_OUT.values())
