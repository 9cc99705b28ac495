"""A report is shown by a link nobody can guess, with the parts chosen, and as long as the rider opens the bike."""

import pytest

from fleet.accounts.models import Change
from fleet.errors import Invalid, NotAllowed
from fleet.garage.actions import take_back
from fleet.trials.actions import publish_report, withdraw_report
from fleet.trials.queries import published


def test_a_link_is_long_and_shows_the_chosen_parts_in_order(trial, tester):
    test = publish_report(by=tester, test=trial, shown=["laps", "verdict"])

    assert len(test.public_code) >= 24
    assert published(test.public_code).shown == ["verdict", "laps"]


def test_other_parts_keep_the_link_and_the_trail_tells_no_code(trial, tester):
    code = publish_report(by=tester, test=trial, shown=["laps"]).public_code
    again = publish_report(by=tester, test=trial, shown=["wear"]).public_code

    assert code == again
    lines = Change.objects.filter(row=trial.pk, what="granted").order_by("at", "pk")
    assert {"shown": ["wear"]} in [line.after for line in lines]
    assert code not in str([(line.before, line.after) for line in lines])


def test_a_link_taken_back_leads_nowhere(trial, tester):
    code = publish_report(by=tester, test=trial, shown=["laps"]).public_code

    for _ in range(2):
        withdraw_report(by=tester, test=trial)

    assert published(code) is None
    assert Change.objects.filter(row=trial.pk, what="taken_back").count() == 1


def test_a_rider_who_ends_the_sharing_ends_the_link(trial, tester, rider_person, shared, now):
    code = publish_report(by=tester, test=trial, shown=["laps"]).public_code

    take_back(by=rider_person, sharing=shared, at=now)

    assert published(code) is None


@pytest.mark.parametrize("shown", [[], ["everything"]])
def test_no_part_and_an_unknown_part_are_refused(trial, tester, shown):
    with pytest.raises(Invalid):
        publish_report(by=tester, test=trial, shown=shown)


def test_crew_publishes_nothing(trial, crew):
    with pytest.raises(NotAllowed):
        publish_report(by=crew, test=trial, shown=["laps"])
