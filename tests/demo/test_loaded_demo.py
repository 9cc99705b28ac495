"""What stands in a database after ``manage.py demo`` and can be shown at once."""

import pytest

from fleet.accounts.models import Person
from fleet.events.models import Day
from fleet.life.models import Assessment, Flag, LearnedModel
from fleet.pressures.models import Bulletin, Guidance
from tests.demo.test_demo_command import load


@pytest.fixture(scope="module")
def answer(kept_for_the_module, tmp_path_factory):
    """What the command said."""
    return load(tmp_path_factory.mktemp("demo"))


def test_a_loaded_demo_is_ready_to_be_shown(db, answer):
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


def test_every_printed_login_opens_with_the_printed_password(db, answer):
    addresses = [word for word in answer.split() if word.endswith("@example.org")]
    assert len(addresses) == 8
    assert all(Person.objects.get(email=email).check_password("trackday-demo") for email in addresses)
