"""After a stint: the page says what to change, takes the answer, and lays the next stint beside it."""

import re
import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.life.assessments import assess
from fleet.pressures.advice import advise
from fleet.running.actions import log_stint, note_surface
from fleet.running.models import AdviceAnswer, Stint

KPA_PER_PSI = 6.894757293168  # NIST SP 811 (2008), appendix B.8
LAPS = [112.0, 111.4, 111.9, 112.3, 111.6, 112.1, 111.8]


@pytest.fixture
def ridden(rider, wheel_pair, day, entry, guidance, assessed, now):
    def log(minutes_ago=70, **changes):
        stint = {
            "started_at": now - timedelta(minutes=minutes_ago),
            "ended_at": now - timedelta(minutes=minutes_ago - 15),
            "day": day,
            "laps": 7,
            "front_set_kpa": 205.0,
            "rear_set_kpa": 190.0,
        }
        return log_stint(by=SERVICE, at=now, wheel_pair=wheel_pair, **(stint | changes))

    return log


@pytest.fixture
def shown(as_, rider):
    def get(stint):
        answer = as_(rider.person).get(reverse("after-stint", args=[stint.pk]))
        assert answer.status_code == 200
        return re.sub(r"\s+", " ", answer.content.decode())

    return get


@pytest.fixture
def say(as_, rider):
    def post(stint, **said):
        form = {"advised": "leave it", "key": str(uuid.uuid4())}
        return as_(rider.person).post(reverse("answer-advice", args=[stint.pk]), form | said, follow=True)

    return post


def test_one_change_is_shown_with_size_direction_reason_and_sureness(shown, ridden):
    stint = ridden(front_in_kpa=232.0, rear_in_kpa=260.0)
    found = advise(stint, gauge=None).suggestion

    page = shown(stint)

    assert (found.kind, found.axle) == ("pressure", "rear")
    assert f"Rear: start with {abs(found.change_kpa) / KPA_PER_PSI:.1f} psi less" in page
    assert f'<span class="figure">{found.start_kpa / KPA_PER_PSI:.1f}</span>' in page
    assert found.reason in page
    assert "Firm advice: rests on" in page
    assert "One change at a time" in page


def test_the_table_says_how_far_off_the_target_each_end_came_in(shown, ridden):
    stint = ridden(front_in_kpa=232.0, rear_in_kpa=260.0)
    rear = advise(stint, gauge=None).ends[1]

    assert f"+{rear.off_kpa / KPA_PER_PSI:.1f}" in shown(stint)


def test_a_late_reading_is_said_to_be_taken_back(shown, ridden):
    page = shown(ridden(front_in_kpa=225.0, minutes_since_in=8.0))

    assert "read 8 minutes after coming in" in page
    assert "the table has what that was on coming in" in page


def test_a_tire_that_must_not_go_out_says_stay_in(shown, ridden, fitted, now):
    stint = ridden(front_in_kpa=232.0)
    note_surface(by=SERVICE, at=now, tire=fitted["rear"].tire, look="cord", seen_at=now)
    assess(None, at=now)

    page = shown(stint)

    assert "Stay in: the rear tire must not go out" in page
    assert '<span class="figure">' not in page


def test_with_nothing_read_it_asks_to_measure(shown, ridden):
    assert "Measure before anything is changed" in shown(ridden(front_set_kpa=None, rear_set_kpa=None))


def test_done_is_noted_with_what_was_advised_and_the_next_stint_asks_what_came_of_it(shown, ridden, say):
    first = ridden(rear_in_kpa=260.0)
    say(first, advised="pressure", axle="rear", change_kpa="-6.9", answer="done")
    second = ridden(minutes_ago=40, rear_set_kpa=183.0, rear_in_kpa=240.0)

    page = shown(second)

    assert "Before it: <strong>Rear: start with 1.0 psi less</strong>. You said: done." in page
    assert ">Better</button>" in page
    answer = say(
        first, advised="pressure", axle="rear", change_kpa="-6.9", answer="better", shown_on=str(second.pk)
    )
    assert "What came of it: <strong>better</strong>" in re.sub(r"\s+", " ", answer.content.decode())
    assert list(AdviceAnswer.objects.order_by("recorded_at").values_list("answer", flat=True)) == [
        "done",
        "better",
    ]


def test_what_was_not_done_is_asked_no_further(shown, ridden, say):
    first = ridden(rear_in_kpa=260.0)
    say(first, answer="not_done")
    second = ridden(minutes_ago=40)

    assert ">Better</button>" not in shown(second)


def test_an_answer_that_is_none_is_refused_and_nothing_stored(ridden, say):
    answer = say(ridden(), answer="perhaps")

    assert "nothing was stored" in answer.content.decode()
    assert not AdviceAnswer.objects.exists()


def test_the_stint_before_stands_beside_it(shown, ridden):
    ridden(rear_in_kpa=226.0, feel="moves", lap_times_s=LAPS)
    second = ridden(minutes_ago=40, rear_in_kpa=221.0, feel="good", lap_times_s=[one - 1.5 for one in LAPS])

    page = shown(second)

    assert "Moves about under power" in page
    assert "Good, planted" in page
    assert "1:51.4" in page
    assert "1:49.9" in page
    assert "1.50 s quicker" in page


def test_the_same_laps_are_not_told_apart(shown, ridden):
    ridden(lap_times_s=LAPS)
    second = ridden(minutes_ago=40, lap_times_s=LAPS[::-1])

    assert "The lap times do not tell the two stints apart." in shown(second)


def test_another_riders_stint_is_not_there(as_, other_rider, ridden):
    stint = ridden()
    client = as_(other_rider.person)

    shown = client.get(reverse("after-stint", args=[stint.pk]))
    said = client.post(
        reverse("answer-advice", args=[stint.pk]),
        {"advised": "leave it", "answer": "done", "key": str(uuid.uuid4())},
    )

    assert (shown.status_code, said.status_code) == (404, 404)
    assert not AdviceAnswer.objects.exists()


def test_many_stints_ask_the_database_no_more_often(as_, rider, ridden, wheel_pair, layout, day, now):
    ridden(minutes_ago=70, rear_in_kpa=226.0)
    last = ridden(minutes_ago=40, rear_in_kpa=226.0)
    client = as_(rider.person)

    def queries():
        with CaptureQueriesContext(connection) as asked:
            client.get(reverse("after-stint", args=[last.pk]))
        return len(asked)

    few = queries()
    Stint.objects.bulk_create(
        Stint(
            wheel_pair=wheel_pair,
            layout=layout,
            day=day,
            started_at=now - timedelta(hours=number + 2),
            ended_at=now - timedelta(hours=number + 2) + timedelta(minutes=15),
            laps=7,
            distance_km=28.8,
            recorded_at=now,
        )
        for number in range(100)
    )

    assert queries() == few
