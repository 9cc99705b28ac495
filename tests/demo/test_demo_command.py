"""``manage.py demo``: loads an empty database once, refuses production, and leaves other people's data alone."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from fleet.accounts.models import Person
from fleet.garage.models import Rider


def load(folder, **options):
    answer = StringIO()
    call_command("demo", load_only=True, folder=folder, attendance=0.05, stdout=answer, **options)
    return answer.getvalue()


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
