"""``manage.py demo``: loads an empty database once, refuses production, and leaves other people's data alone."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from fleet.accounts.models import Person
from fleet.events.models import Day
from fleet.garage.models import Rider
from fleet.life.models import Assessment, Flag, LearnedModel
from fleet.pressures.models import Bulletin, Guidance


def load(folder, **options):
    answer = StringIO()
    call_command("demo", load_only=True, folder=folder, attendance=0.05, stdout=answer, **options)
    return answer.getvalue()


def test_a_loaded_demo_is_ready_to_be_shown(db, tmp_path):
    answer = load(tmp_path)

    following, last = Day.objects.order_by("-date")[:2]
    assert LearnedModel.objects.count() == 2
    assert Flag.objects.filter(cleared_at__isnull=True).exists()
    assert Assessment.objects.filter(is_newest=True).count() >= 120
    assert (
        Guidance.objects.filter(day=following, is_newest=True)
        .get()
        .lines.filter(entry__isnull=False)
        .exists()
    )
    assert [row.day for row in Bulletin.objects.all()] == [last]
    assert not following.bulletins.exists()
    assert "rider@example.org" in answer
    assert "director@example.org" in answer
    assert "trackday-demo" in answer


def test_every_printed_login_opens_with_the_printed_password(db, tmp_path):
    answer = load(tmp_path)

    addresses = [word for word in answer.split() if word.endswith("@example.org")]
    assert len(addresses) == 8
    assert all(Person.objects.get(email=email).check_password("trackday-demo") for email in addresses)


def test_a_database_with_riders_is_left_as_it_is(rider, tmp_path):
    answer = load(tmp_path)

    assert "nothing was loaded" in answer
    assert list(Rider.objects.all()) == [rider]


def test_it_is_refused_in_production(db, settings, tmp_path):
    settings.PRODUCTION = True

    with pytest.raises(CommandError, match="FLEET_PRODUCTION"):
        load(tmp_path)

    assert not Person.objects.exists()


@pytest.mark.parametrize(
    ("options", "words"),
    [({"date": "2999-01-01"}, "has not come yet"), ({"date": "June"}, "is no date")],
)
def test_a_day_that_cannot_be_today_is_refused(db, tmp_path, options, words):
    with pytest.raises(CommandError, match=words):
        call_command("demo", "--load-only", f"--date={options['date']}", f"--folder={tmp_path}")
