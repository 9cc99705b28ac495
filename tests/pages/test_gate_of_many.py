"""The gate and the lists of who is near the end ask the database as often for three hundred entrants as for thirty."""

from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from fleet.accounts.models import Role
from fleet.events.models import Entry
from tests.conftest import somebody
from tests.paddock import full_paddock, judge, zone_of_noon

MANY, FEW = 300, 30
ASKED = {"gate": 17, "gate-list": 17, "day": 25}


@pytest.fixture
def full_day(db):
    at = timezone.now()
    zone = zone_of_noon(at)
    paddock = full_paddock(MANY, at=at, on=at.astimezone(ZoneInfo(zone)).date(), zone=zone)
    judge(paddock, at=at)
    return paddock.day


@pytest.fixture
def asked(as_, full_day):
    """How often an inspector's page asks the database, and the page."""
    client = as_(somebody("Ines Marlowe", full_day.event.organiser, Role.INSPECTOR))

    def ask(name, **question):
        address = reverse(name, args=[full_day.pk])
        client.get(address, question)
        with CaptureQueriesContext(connection) as queries:
            page = client.get(address, question).content.decode()
        return len(queries), page

    return ask


@pytest.mark.parametrize(
    ("name", "question", "said"),
    [("gate", {"number": "297"}, "Rider 297"), ("gate-list", {}, "Rider 297"), ("day", {}, "Rider 297")],
)
def test_many_entrants_are_asked_for_as_often_as_few(asked, full_day, name, question, said):
    many, page_of_many = asked(name, **question)
    Entry.objects.filter(day=full_day, number__in=[str(n) for n in range(MANY - FEW)]).delete()
    few, page_of_few = asked(name, **question)

    assert said in page_of_many
    assert said in page_of_few
    assert ("Rider 30<" in page_of_many, "Rider 30<" in page_of_few) == (name != "gate", False)
    assert few == many == ASKED[name]
