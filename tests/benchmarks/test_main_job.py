"""How long the main job takes, as a ratio to a floor of the same run; by hand, see DEVELOPERS.md.

Floor: one ``SELECT`` of every row the job reads, in plain ``values_list``.
"""

import time
from datetime import UTC, date, datetime

import pytest

from fleet.demo.scenario import generate
from fleet.exchange.actions import import_folder
from fleet.inventory.models import Fitting, Tire
from fleet.life.assessments import assess
from fleet.life.learning import learn
from fleet.life.models import LearnedModel
from fleet.pressures.guidance import draft
from fleet.pressures.models import Guidance
from fleet.pressures.queries import days_near
from fleet.running.models import Stint, TreadReading

AT = datetime(2026, 6, 12, 15, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def season(django_db_setup, django_db_blocker, tmp_path_factory):
    """The demo's season, imported once for all benchmarks of this file."""
    folder = tmp_path_factory.mktemp("season")
    generate(folder, today=date(2026, 6, 12), at=AT)
    with django_db_blocker.unblock():
        import_folder(folder, at=AT)
        for subject in LearnedModel.Subject.values:
            learn(subject, at=AT)
        yield days_near(at=AT)[-1]


def floor_s():
    """Read every row the jobs read, without doing anything with it."""
    started = time.perf_counter()
    for model in (Tire, Fitting, Stint, TreadReading):
        list(model.objects.values_list())
    return time.perf_counter() - started


@pytest.mark.django_db
def test_assess_every_tire_of_the_demo(season, benchmark):
    benchmark.extra_info["tires"] = Tire.objects.count()
    benchmark.extra_info["floor_s"] = floor_s()

    benchmark.pedantic(assess, (None,), {"at": AT}, rounds=5, warmup_rounds=1)

    benchmark.extra_info["times_floor"] = benchmark.stats["mean"] / benchmark.extra_info["floor_s"]


@pytest.mark.django_db
def test_draft_a_day_of_sixty_riders(season, benchmark):
    def outdate():
        Guidance.objects.filter(day=season).update(fingerprint="changed")

    benchmark.extra_info["entries"] = season.entries.count()
    benchmark.extra_info["floor_s"] = floor_s()

    benchmark.pedantic(
        draft,
        (season,),
        {"at": AT},
        setup=outdate,
        rounds=5,
        warmup_rounds=1,
    )

    benchmark.extra_info["times_floor"] = benchmark.stats["mean"] / benchmark.extra_info["floor_s"]
