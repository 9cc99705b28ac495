"""Who may be entered, and who enters themselves: an entry opens tires to the organiser, so it rests on the rider."""

from datetime import UTC, datetime, timedelta

import pytest

from fleet.accounts.models import Change, Role
from fleet.accounts.policy import SERVICE
from fleet.errors import Invalid, NotFound
from fleet.events.actions import add_day, add_group, enter, enter_oneself, leave, plan_event
from fleet.events.errors import EntriesClosed, NeedsConsent, TooLateToLeave
from fleet.events.models import Entry
from fleet.events.queries import entrants_for, open_to
from fleet.garage.actions import add_bike, register_rider, share, take_back


@pytest.fixture
def tomorrow(event, layout, now):
    return add_day(by=SERVICE, event=event, date=now.date() + timedelta(days=1), layout=layout)


@pytest.fixture
def open_event(event):
    event.takes_entries = True
    event.save()
    return event


def walk_in(by, organisation, code="r-9"):
    rider = register_rider(by=by, code=code, name="Wil Stroud", registered_with=organisation)
    return add_bike(by=by, rider=rider, code=code, description="600 sport")


def test_a_rider_with_an_account_is_not_entered_behind_their_back(day, bike, group, crew, director, now):
    for by in (crew, director):
        with pytest.raises(
            NeedsConsent, match="ask the rider to enter themselves on the event's page, or to share"
        ):
            enter(by=by, day=day, bike=bike, group=group, number="27")

    assert not Entry.objects.exists()
    assert not entrants_for(crew, on=now.date()).exists()


def test_sharing_with_the_organiser_agrees_until_it_is_taken_back(
    tomorrow, day, bike, group, crew, rider, longfield, breckside, now
):
    share(by=rider.person, rider=rider, organisation=breckside, scope="stints", at=now)
    with pytest.raises(NeedsConsent):
        enter(by=crew, day=day, bike=bike, group=group, number="27")
    given = share(by=rider.person, rider=rider, organisation=longfield, scope="stints", at=now)

    entry = enter(by=crew, day=day, bike=bike, group=group, number="27")

    assert entry.rider == rider
    entry.delete()
    take_back(by=rider.person, sharing=given, at=now)
    with pytest.raises(NeedsConsent):
        enter(by=crew, day=day, bike=bike, group=group, number="27")


def test_who_rides_at_an_event_is_entered_on_its_other_days_and_not_at_the_next_event(
    entry, tomorrow, bike, group, crew, longfield, layout, now
):
    july = plan_event(by=crew, organiser=longfield, code="july", name="July")
    later = add_day(by=crew, event=july, date=now.date() + timedelta(days=30), layout=layout)
    slow = add_group(by=crew, event=july, name="Slow")

    assert enter(by=crew, day=tomorrow, bike=bike, group=group, number="27").pk
    with pytest.raises(NeedsConsent):
        enter(by=crew, day=later, bike=bike, group=slow, number="27")


def test_an_event_that_grows_days_for_years_does_not_keep_its_entrants(
    entry, event, bike, group, crew, layout, now
):
    days = [
        add_day(by=crew, event=event, date=now.date() + timedelta(days=later), layout=layout)
        for later in (30, 60, 365)
    ]

    assert enter(by=crew, day=days[0], bike=bike, group=group, number="27").pk
    for day in days[1:]:
        with pytest.raises(NeedsConsent):
            enter(by=crew, day=day, bike=bike, group=group, number="27")


def test_who_was_registered_by_the_organiser_is_entered_also_with_an_account(
    day, group, crew, longfield, rider_person
):
    bike = walk_in(crew, longfield)
    first = enter(by=crew, day=day, bike=bike, group=group, number="27")
    first.delete()
    bike.rider.person = rider_person
    bike.rider.save()

    assert enter(by=crew, day=day, bike=bike, group=group, number="27").pk


def test_a_walk_in_of_somebody_else_is_entered_only_where_they_rode_before(
    day, tomorrow, group, crew, fitter, tarn, longfield, layout
):
    bike = walk_in(fitter, tarn)
    with pytest.raises(NeedsConsent, match="register a walk-in first"):
        enter(by=crew, day=day, bike=bike, group=group, number="27")
    enter(by=SERVICE, day=day, bike=bike, group=group, number="27")
    july = plan_event(by=crew, organiser=longfield, code="july", name="July")
    later = add_day(by=crew, event=july, date=tomorrow.date, layout=layout)

    slow = add_group(by=crew, event=july, name="Slow")

    assert enter(by=crew, day=later, bike=bike, group=slow, number="27").pk


def test_a_rider_enters_themselves_where_an_event_takes_entries(
    open_event, tomorrow, bike, group, rider, crew, now
):
    entry = enter_oneself(
        by=rider.person, at=now, day=tomorrow, bike=bike, group=group, number="27", uses_warmers=True
    )

    line = Change.objects.get(row=entry.pk)
    assert (entry.rider, entry.uses_warmers) == (rider, True)
    assert (line.by, line.on_behalf_of, line.rider, line.organisation) == (
        rider.person, None, rider.pk, open_event.organiser,
    )  # fmt: skip
    assert list(entrants_for(crew, on=now.date())) == [rider]


def test_an_event_that_takes_no_entries_or_is_over_refuses_them(
    event, day, tomorrow, bike, group, rider, now
):
    by = rider.person
    with pytest.raises(EntriesClosed, match="ask its organiser to enter you"):
        enter_oneself(by=by, at=now, day=tomorrow, bike=bike, group=group, number="27")
    event.takes_entries = True
    event.save()

    with pytest.raises(EntriesClosed, match="over"):
        enter_oneself(by=by, at=now + timedelta(days=1), day=day, bike=bike, group=group, number="27")

    assert enter_oneself(by=by, at=now, day=day, bike=bike, group=group, number="27").pk


def test_the_day_is_over_when_it_is_over_at_the_track(open_event, day, bike, group, rider):
    """At the end of a June day the track's clock is an hour ahead of UTC."""
    given = {"by": rider.person, "day": day, "bike": bike, "group": group, "number": "27"}

    with pytest.raises(EntriesClosed):
        enter_oneself(at=datetime(2026, 6, 12, 23, 30, tzinfo=UTC), **given)

    assert enter_oneself(at=datetime(2026, 6, 12, 22, 30, tzinfo=UTC), **given).pk


def test_nobody_enters_anothers_bike_as_their_own(
    open_event, tomorrow, bike, group, other_rider, fitter, crew, now
):
    for by in (other_rider.person, fitter, crew):
        with pytest.raises(NotFound):
            enter_oneself(by=by, at=now, day=tomorrow, bike=bike, group=group, number="27")

    assert not Entry.objects.exists()


def test_a_number_and_a_group_are_checked_for_riders_too(
    open_event, entry, day, group, other_rider, longfield, now
):
    bike = add_bike(by=SERVICE, rider=other_rider, code="b-2", description="600 sport")
    foreign = add_group(
        by=SERVICE, event=plan_event(by=SERVICE, organiser=longfield, code="july", name="July"), name="Fast"
    )
    given = {"by": other_rider.person, "at": now, "day": day, "bike": bike}

    with pytest.raises(Invalid, match="That number rides already that day: give another one"):
        enter_oneself(**given, group=group, number="27")
    with pytest.raises(Invalid, match="another event"):
        enter_oneself(**given, group=foreign, number="28")


def test_crew_who_ride_themselves_need_no_open_event(tomorrow, bike, group, rider, longfield, now):
    rider.person.memberships.create(organisation=longfield, role=Role.CREW)

    entry = enter_oneself(by=rider.person, at=now, day=tomorrow, bike=bike, group=group, number="27")

    assert Change.objects.get(row=entry.pk).on_behalf_of == longfield


def test_a_rider_leaves_before_the_day_and_takes_the_sharing_back(
    tomorrow, bike, group, rider, crew, other_rider, now
):
    entry = enter(by=SERVICE, day=tomorrow, bike=bike, group=group, number="27")
    with pytest.raises(NotFound):
        leave(by=other_rider.person, at=now, entry=entry)

    leave(by=rider.person, at=now, entry=entry)

    assert not entrants_for(crew, on=now.date()).exists()
    assert Change.objects.filter(what="withdrawn", by=rider.person, on_behalf_of=None).count() == 1


def test_on_the_day_the_crew_takes_somebody_off(entry, rider, crew, longfield, now):
    with pytest.raises(TooLateToLeave, match="ask at the desk"):
        leave(by=rider.person, at=now, entry=entry)
    assert Entry.objects.exists()

    rider.person.memberships.create(organisation=longfield, role=Role.CREW)
    leave(by=rider.person, at=now, entry=entry)

    assert not Entry.objects.exists()


def test_only_who_rides_sees_coming_days_of_events_that_take_entries(
    open_event, day, tomorrow, other_rider, fitter, crew, now
):
    assert list(open_to(other_rider.person, at=now)) == [day, tomorrow]
    assert list(open_to(other_rider.person, at=now + timedelta(days=2))) == [tomorrow]
    assert not open_to(other_rider.person, at=now + timedelta(days=3)).exists()
    assert not open_to(fitter, at=now).exists()
