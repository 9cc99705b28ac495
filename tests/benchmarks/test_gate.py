"""How long the gate's answer to a number and the list of who is near the end take with 300 entrants; by hand, see DEVELOPERS.md.

Floor of the answer: the gate's own page before a number is typed, with the session, the rights and the frame of a page. Floor of the
lists: every row they rest on, read in plain ``values_list``. The goal in CPU seconds is what a person at a gate waits for.
"""

import time
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.accounts.models import Role
from fleet.events.models import Entry
from fleet.inventory.models import Fitting, Hold
from fleet.life.models import Assessment
from tests.conftest import somebody
from tests.paddock import full_paddock, judge, zone_of_noon

ENTRANTS = 300
GOAL_S = 1.0
GOALS = {"number": 5.0, "gate-list": 20.0, "day": 25.0}


@pytest.fixture
def full_day(db):
    at = timezone.now()
    zone = zone_of_noon(at)
    paddock = full_paddock(ENTRANTS, at=at, on=at.astimezone(ZoneInfo(zone)).date(), zone=zone)
    judge(paddock, at=at)
    return paddock.day


@pytest.fixture
def look(full_day):
    """Open a page of the day as its inspector does."""
    client = Client()
    client.force_login(somebody("Ines Marlowe", full_day.event.organiser, Role.INSPECTOR))

    def see(name, **question):
        answer = client.get(reverse(name, args=[full_day.pk]), question)
        assert answer.status_code == 200
        return answer.content.decode()

    return see


def least_s(do):
    """Return the least CPU time of some rounds."""
    spent = []
    for _ in range(10):
        started = time.process_time()
        do()
        spent.append(time.process_time() - started)
    return min(spent)


def rows():
    for model in (Entry, Fitting, Assessment, Hold):
        list(model.objects.values_list())


def check(benchmark, floor_s, goal):
    benchmark.extra_info["floor_s"] = floor_s
    benchmark.extra_info["times_floor"] = benchmark.stats["min"] / floor_s
    assert benchmark.stats["min"] < GOAL_S
    assert benchmark.extra_info["times_floor"] < goal


@pytest.mark.benchmark(timer=time.process_time)
def test_answer_a_number(look, benchmark):
    look("gate", number="297")
    floor_s = least_s(lambda: look("gate"))

    page = benchmark.pedantic(look, ("gate",), {"number": "297"}, rounds=10, warmup_rounds=1)

    assert "Rider 297" in page
    check(benchmark, floor_s, GOALS["number"])


@pytest.mark.benchmark(timer=time.process_time)
@pytest.mark.parametrize("name", ["gate-list", "day"])
def test_list_who_is_near_the_end(look, benchmark, name):
    floor_s = least_s(rows)

    page = benchmark.pedantic(look, (name,), rounds=10, warmup_rounds=1)

    assert "Rider 297" in page
    check(benchmark, floor_s, GOALS[name])
