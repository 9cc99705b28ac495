"""A day of 150 riders, played twice: once undisturbed, once with everything breaking that can. Both must end alike.

Messages are lost and doubled, the broker is killed and emptied, workers are killed in the middle of a draft, and the database's server
crashes in the middle of one assessment and is restarted in the middle of another. The timetable's part is played by the test, which
sends its messages more often; after the server's faults an operator has the jobs run again instead of waiting for them.
"""

import contextlib
import time
from collections import Counter
from datetime import timedelta
from functools import partial
from zoneinfo import ZoneInfo

import pytest
from django.db import OperationalError, connection
from django.utils import timezone
from kombu.exceptions import OperationalError as NotTaken

from fleet.accounts.policy import SERVICE
from fleet.celery import app
from fleet.events.actions import record_conditions
from fleet.inventory.revisions import ASSESS, DRAFT
from fleet.life.assessments import stale_tires
from fleet.life.models import Flag
from fleet.notices.actions import SEND
from fleet.notices.models import Notice, TellingChoice
from fleet.operating.actions import run_job
from fleet.pressures.actions import issue_bulletin
from fleet.pressures.errors import IssuedAlready
from fleet.pressures.models import Bulletin, GuidanceLine
from fleet.pressures.queries import days_wanting_draft, newest_guidance
from fleet.running.actions import log_stint, record_tread
from tests.emptying import empty_what_was_written
from tests.journeys.jobs import HeldTable, database_of_tests, own_jobs, wait_until
from tests.journeys.server import own_server
from tests.paddock import full_paddock, key, zone_of_noon

pytestmark = [pytest.mark.postgres, pytest.mark.redis, pytest.mark.django_db(transaction=True)]

RIDERS = 150
SENT_EVERY_S = 1.0
FIGURES = (
    "shown_kpa",
    "low_kpa",
    "high_kpa",
    "hot_target_kpa",
    "expected_hot_kpa",
    "limit_hit",
    "readings",
    "moved_kpa",
    "moved_because",
)


@pytest.fixture
def server(transactional_db):
    with own_server(database_of_tests()) as found:
        yield found


@pytest.fixture
def jobs(tmp_path, server):
    with own_jobs(tmp_path, server.url) as found:
        yield found


def run_again(*names):
    """Have jobs run now that failed and would wait; what fails again is asked for again."""
    for name in names:
        run_job(by=SERVICE, at=timezone.now(), name=name)


def send(*names, times=1):
    """Send messages as the timetable does; one the broker does not take is lost."""
    for name in names * times:
        with contextlib.suppress(OSError, NotTaken):
            app.send_task(name, retry=False, expires=60)


class Play:
    """One performance of the day: what happens is always the same."""

    def __init__(self, jobs, at) -> None:
        self.jobs, self.at = jobs, at
        zone = zone_of_noon(at)
        self.paddock = full_paddock(
            RIDERS, at=at, on=at.astimezone(ZoneInfo(zone)).date(), zone=zone, has_accounts=True
        )
        self.day = self.paddock.day
        TellingChoice.objects.bulk_create(
            TellingChoice(person_id=key("person", n), kind="bulletin", on_page=True, by_mail=True)
            for n in range(12)
        )
        self.ago = lambda minutes: at - timedelta(minutes=minutes)

    def weather(self, standing, minutes_ago, air_c):
        record_conditions(
            by=SERVICE, at=self.at, day=self.day, holds_at=self.ago(minutes_ago), standing=standing, source="as told",
            air_c=air_c, track_surface_c=air_c + 11.0, barometer_kpa=101.2, key=key("weather", minutes_ago, air_c),
        )  # fmt: skip

    def ridden(self, riders, minutes_ago):
        for n in riders:
            log_stint(
                by=SERVICE, at=self.at, wheel_pair=self.paddock.pairs[n], day=self.day, laps=8, key=key("stint", n),
                started_at=self.ago(minutes_ago), ended_at=self.ago(minutes_ago - 18),
                front_set_kpa=205.0 + n % 5, front_in_kpa=236.0 + n % 7, rear_set_kpa=185.0 + n % 4,
                rear_in_kpa=212.0 + n % 6,
            )  # fmt: skip

    def read(self, riders):
        for n in riders:
            record_tread(
                by=SERVICE, at=self.at, tire=self.paddock.tires[n]["rear"], zone="C", taken_at=self.ago(10),
                depth_mm=0.8 + 0.15 * (n % 10), key=key("tread", n),
            )  # fmt: skip

    def forecast(self):
        self.weather("forecast", 60, 17.0)
        self.weather("forecast", -60, 19.0)

    def morning(self):
        self.weather("observed", 45, 22.0)
        self.ridden(range(20), 150)

    def noon(self):
        self.weather("forecast", -30, 30.0)
        self.weather("observed", 4, 27.0)
        self.ridden(range(20, 30), 90)
        self.read(range(100, 120))

    def settle(self, *, times=1, by_operator=False):
        """Wait until the jobs have nothing to do any more."""
        jobs = (ASSESS, DRAFT, SEND)
        last = 0.0

        def is_settled():
            nonlocal last
            if time.monotonic() - last > SENT_EVERY_S:
                send(*jobs, times=times)
                if by_operator:
                    run_again(*jobs)
                last = time.monotonic()
            if Notice.objects.filter(mail=Notice.Mail.WAITING).exists() or stale_tires():
                return False
            return newest_guidance(self.day) is not None and not days_wanting_draft(at=timezone.now())

        wait_until(is_settled, "everything is assessed, drafted and told")

    def issue(self):
        """Issue what was drafted, twice as an impatient hand does; nothing was issued before that."""
        before, seen = Bulletin.objects.count(), newest_guidance(self.day)
        ask = partial(issue_bulletin, by=self.paddock.director, at=self.at, day=self.day, guidance=seen)
        ask()
        with pytest.raises(IssuedAlready):
            ask()
        assert Bulletin.objects.count() == before + 1

    def told(self):
        """Return what the day came to, without ids that are new each time."""
        lines = GuidanceLine.objects.filter(guidance__day=self.day, guidance__is_newest=True)
        flags = Flag.objects.filter(cleared_at__isnull=True)
        return {
            "draft": {
                (part, entry, group, spec, warmers): figures
                for part, entry, group, spec, warmers, *figures in lines.values_list(
                    "part__name", "entry__number", "group__name", "spec__code", "uses_warmers", *FIGURES
                )
            },
            "flags": sorted(flags.values_list("tire__label_code", "state", "binding_limit")),
            "bulletins": [
                (row.number, row.issued_by.email, row.content["conditions"]["air_c"], row.content["lines"])
                for row in Bulletin.objects.order_by("number").select_related("issued_by")
            ],
            "told": Counter(Notice.objects.values_list("person__email", "sentence")),
        }


def play_calmly(play):
    for act in (play.forecast, play.morning, play.noon):
        act()
        play.settle()
        play.issue()
    play.settle()
    return play.told()


def end(server_ends, held):
    """End the database's server under everybody, this process too."""
    server_ends()
    with pytest.raises(OperationalError):
        Flag.objects.exists()
    connection.close()
    held.let_go()


def play_with_everything_breaking(play, server):
    jobs = play.jobs

    # Workers are killed in the middle of the first draft, and every message comes three times.
    held = HeldTable(jobs.database_url, "pressures_guidanceline")
    play.forecast()
    send(DRAFT, ASSESS, times=3)
    held.wait_for_somebody()
    jobs.kill_workers()
    held.let_go()
    assert newest_guidance(play.day) is None
    jobs.start_workers()
    play.settle(times=3)
    play.issue()

    # The broker dies before the morning's facts come, is back empty, and loses what it holds once more.
    jobs.kill_broker()
    play.morning()
    jobs.start_broker()
    send(DRAFT, ASSESS, times=20)
    jobs.empty_broker()

    # The database's server crashes while the morning's tires are assessed.
    held = HeldTable(jobs.database_url, "life_assessment")
    send(ASSESS, times=3)
    held.wait_for_somebody()
    end(server.crash, held)
    server.start()
    play.settle(times=3, by_operator=True)
    play.issue()

    # The server is restarted while flags are being raised.
    held = HeldTable(jobs.database_url, "life_flag")
    play.noon()
    send(DRAFT, ASSESS, times=3)
    held.wait_for_somebody()
    end(server.stop, held)
    server.start()
    play.settle(times=3, by_operator=True)
    play.issue()
    play.settle(times=3)
    assert jobs.are_alive()
    return play.told()


def test_whatever_breaks_the_day_ends_the_same_and_nobody_is_told_twice(jobs, server):
    at = timezone.now().replace(microsecond=0)
    jobs.start_workers()
    calm = play_calmly(Play(jobs, at))
    jobs.kill_workers()
    jobs.empty_broker()
    calm_mails = jobs.mailbox.read_text().splitlines()
    jobs.mailbox.unlink()
    empty_what_was_written()
    jobs.start_workers()

    disturbed = play_with_everything_breaking(Play(jobs, at), server)

    assert len(calm["draft"]) > 2 * RIDERS
    assert {state for _, state, _ in calm["flags"]} >= {"stand down"}
    assert [(number, by) for number, by, *_ in calm["bulletins"]] == [
        (n, "dara@example.org") for n in (1, 2, 3)
    ]
    assert disturbed["draft"] == calm["draft"]
    assert disturbed["flags"] == calm["flags"]
    assert disturbed["bulletins"] == calm["bulletins"]
    assert disturbed["told"] == calm["told"]
    assert max(disturbed["told"].values()) == 1
    mails = jobs.mailbox.read_text().splitlines()
    assert len(set(mails)) == len(mails)
    assert len(calm_mails) > 36
    assert len(mails) <= len(calm_mails)
