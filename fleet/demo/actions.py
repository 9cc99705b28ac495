"""Loading the demonstration: the folder is generated and imported, then the jobs run once as they would at night."""

from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Final

from django.contrib.auth.hashers import make_password

from fleet.accounts.models import Person
from fleet.celery import quiet
from fleet.demo.names import RIDERS, STAFF, address
from fleet.demo.scenario import generate
from fleet.events.models import Day
from fleet.exchange.actions import import_folder
from fleet.exchange.faults import Report
from fleet.garage.models import Rider
from fleet.life.assessments import assess
from fleet.life.learning import learn
from fleet.life.models import LearnedModel
from fleet.pressures.actions import issue_bulletin
from fleet.pressures.guidance import draft

PASSWORD: Final = "trackday-demo"  # noqa: S105 -- printed on purpose, and refused in production
Progress = Callable[[int, int], None]


def is_empty() -> bool:
    """Return whether the database holds no rider yet."""
    return not Rider.objects.exists()


def load_season(folder: Path, *, today: date, at: datetime, attendance: float, progress: Progress) -> Report:
    """Generate the season up to a date and import it; the accounts it brings can then sign in."""
    generate(folder, today=today, at=at, attendance=attendance)
    report = import_folder(folder, at=at, progress=progress)
    addresses = [email for email, *_ in STAFF] + [address(index) for index in range(len(RIDERS))]
    Person.objects.filter(email__in=addresses).update(password=make_password(PASSWORD))
    return report


def run_jobs(*, at: datetime) -> dict[str, int]:
    """Learn, assess, issue the last day's bulletin and draft the next day, and return how many of each."""
    last = Day.objects.filter(date__lt=at.date()).order_by("-date").first()
    following = Day.objects.filter(date__gt=at.date()).order_by("date").first()
    with quiet():
        models = [learn(subject, at=at) for subject in LearnedModel.Subject.values]
        assessed = assess(None, at=at)
        issued = last is not None and _issue(last)
        drafted = draft(following, at=at) if following else None
    return {
        "models learned": sum(model is not None for model in models),
        "tires assessed": assessed,
        "bulletins issued": int(issued),
        "start pressures drafted": drafted.lines.count() if drafted else 0,
    }


def _issue(day: Day) -> bool:
    """Issue a past day's bulletin as its director did before the first slot; a second time nothing is issued."""
    first = day.slots.order_by("starts_at").first()
    director = Person.objects.filter(email="director@example.org").first()
    if first is None or director is None or day.bulletins.exists():
        return False
    if draft(day, at=first.starts_at) is None:
        return False
    issue_bulletin(by=director, at=first.starts_at, day=day)
    return True
