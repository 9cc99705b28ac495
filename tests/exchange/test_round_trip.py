"""What is exported and imported into an empty database is exported again byte for byte."""

from datetime import UTC, date, datetime

import pytest

from fleet.demo.scenario import generate
from fleet.exchange.actions import import_folder
from fleet.exchange.folder import SHEETS
from fleet.exchange.writing import export_folder
from fleet.inventory.models import Fitting, Hold, Removal, StockMovement
from fleet.inventory.queries import left_at
from fleet.life.assessments import assess
from fleet.life.learning import learn
from fleet.life.models import Assessment, LearnedModel
from fleet.pressures.guidance import draft
from fleet.pressures.queries import days_near
from fleet.running.models import PressureReading, Stint, TreadReading
from tests.emptying import empty_what_was_written

pytestmark = pytest.mark.django_db(transaction=True)
AT = datetime(2026, 6, 12, 15, 0, tzinfo=UTC)


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
LINE = ("part__starts_at", "entry__number", "group__name", "spec__code", "axle", "uses_warmers")
PRESSURES = ("shown_kpa", "low_kpa", "high_kpa", "hot_target_kpa", "basis", "readings", "limit_hit")


def contents(folder):
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def doubts():
    return {
        row["pk"]: row["doubt"]
        for model in (PressureReading, TreadReading)
        for row in model.objects.exclude(doubt="").values("pk", "doubt")
    }


def stock():
    lots = {row.lot for row in StockMovement.objects.select_related("lot__vendor")}
    return {
        (lot.vendor.code, lot.code, place): left_at(lot, place)
        for lot in lots
        for place in ("store", "trailer")
    }


def answers():
    """Run the jobs as a night would, and give back what they say of every tire and of tomorrow."""
    for subject in LearnedModel.Subject.values:
        learn(subject, at=AT)
    assess(None, at=AT)
    guidance = draft(days_near(at=AT)[-1], at=AT)
    life = {
        row["tire__label_code"]: [row[name] for name in LIFE]
        for row in Assessment.objects.filter(is_newest=True).values("tire__label_code", *LIFE)
    }
    lines = {
        tuple(row[name] for name in LINE): [row[name] for name in PRESSURES]
        for row in guidance.lines.values(*LINE, *PRESSURES)
    }
    return life, lines


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    """A thin season with every kind of fact in it, voided, lifted and on hold ones too."""
    folder = tmp_path_factory.mktemp("season")
    generate(folder, today=date(2026, 6, 12), at=AT, attendance=0.08)
    return folder


def test_a_season_comes_back_byte_for_byte_and_gives_the_same_life_and_guidance(season, tmp_path):
    assert import_folder(season, at=AT).faults == []
    export_folder(tmp_path / "first")
    before = (stock(), doubts(), Hold.objects.count(), Removal.objects.count())
    assert Stint.objects.filter(voided_at__isnull=False).exists()
    assert PressureReading.objects.filter(voided_at__isnull=False).exists()
    assert before[1]
    said = answers()
    assert said[0]
    assert said[1]
    empty_what_was_written()
    assert not Fitting.objects.exists()

    report = import_folder(tmp_path / "first", at=AT)

    assert report.faults == []
    export_folder(tmp_path / "second")
    assert contents(tmp_path / "second") == contents(tmp_path / "first")
    assert (stock(), doubts(), Hold.objects.count(), Removal.objects.count()) == before
    assert answers() == said


def test_an_export_over_a_stored_season_changes_nothing(season, tmp_path):
    import_folder(season, at=AT)
    export_folder(tmp_path / "folder")

    report = import_folder(tmp_path / "folder", at=AT)

    assert report.is_done
    assert sum(one.added + one.ended for one in report.outcomes) == 0
    assert all(one.there_already == one.rows for one in report.outcomes)


def test_the_season_fills_every_file(season):
    filled = {path.name for path in season.iterdir() if path.read_text(encoding="utf-8").count("\n") > 1}

    assert filled == {sheet.file for sheet in SHEETS}
