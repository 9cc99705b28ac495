"""The garage: what to set, what is left, and a stint in twenty seconds."""

import uuid
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.garage.actions import add_bike, add_instrument, add_wheel_pair
from fleet.inventory.actions import fit_tire, take_wheels_in
from fleet.life.assessments import assess
from fleet.life.models import Assessment, Flag
from fleet.pressures.actions import draft_day
from fleet.running.actions import log_stint, note_surface, record_tread
from fleet.running.models import PressureReading, Stint

KPA_PER_PSI = 6.894757293168  # NIST SP 811 (2008), appendix B.8: pound-force per square inch


def stint_form(day, now, **changes):
    form = {
        "front_in_kpa": "33.5",
        "rear_in_kpa": "32",
        "minutes_since_in": "0",
        "laps": "7",
        "feel": "good",
        "place": f"day:{day.pk}",
        "started_at": f"{(now - timedelta(minutes=30)):%Y-%m-%dT%H:%M}",
        "ended_at": f"{(now - timedelta(minutes=10)):%Y-%m-%dT%H:%M}",
        "key": str(uuid.uuid4()),
    }
    return form | changes


def test_the_garage_answers_what_to_set_now(as_, rider, guidance, assessed):
    page = as_(rider.person).get("/garage/").content.decode()

    for line in guidance.lines.filter(entry__isnull=False):
        assert f'<span class="figure">{line.shown_kpa / KPA_PER_PSI:.1f}</span>' in page
    assert "Set now, tire at" in page
    assert "Track pressures are too low for the road" in page


def test_pressures_are_shown_as_the_riders_own_gauge_reads(as_, rider, conditions, entry, assessed, day, now):
    add_instrument(
        by=SERVICE, code="g-1", name="Pocket gauge", kind="pressure", rider=rider, offset_kpa=2 * KPA_PER_PSI
    )
    guidance = draft_day(by=SERVICE, at=now, day=day)

    page = as_(rider.person).get("/garage/").content.decode()

    line = guidance.lines.get(entry__isnull=False, axle="front")
    target_psi = line.hot_target_kpa / KPA_PER_PSI + 2
    assert f'<span class="figure">{line.shown_kpa / KPA_PER_PSI:.1f}</span>' in page
    assert f"Hot target <strong>{target_psi:.1f}\N{NO-BREAK SPACE}psi</strong>" in page
    assert "reads 2.0\N{NO-BREAK SPACE}psi high" in page


def test_the_trailer_sets_the_true_pressure_and_the_slip_says_the_riders_gauge(
    as_, fitter, rider, conditions, entry, assessed, day, now, tarn, wheel_pair
):
    add_instrument(
        by=SERVICE, code="g-1", name="Pocket gauge", kind="pressure", rider=rider, offset_kpa=2 * KPA_PER_PSI
    )
    guidance = draft_day(by=SERVICE, at=now, day=day)
    ticket = take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())
    client = as_(fitter)

    page = client.get(reverse("ticket", args=[ticket.pk])).content.decode()
    slip = client.get(reverse("slip", args=[ticket.pk])).content.decode()

    own_psi = guidance.lines.get(entry__isnull=False, axle="front").shown_kpa / KPA_PER_PSI
    assert f'<span class="figure">{own_psi - 2:.1f}</span>' in page
    assert f"<strong>{own_psi:.1f}\N{NO-BREAK SPACE}psi</strong>" in slip
    assert "On your gauge (Pocket gauge" in slip


def test_each_tire_shows_its_state_span_and_limit(as_, rider, assessed):
    page = as_(rider.person).get("/garage/").content.decode()

    for row in Assessment.objects.filter(is_newest=True):
        assert row.get_state_display() in page
        assert f"limit: {row.binding_limit.replace('_', ' ')}" in page
    assert page.count('<svg class="scale"') == 2


def test_a_stint_is_logged_and_seen(as_, rider, day, entry, slot, fitted, local):
    answer = as_(rider.person).post(
        reverse("stint", args=[fitted["front"].wheel_pair_id]), stint_form(day, local), follow=True
    )

    assert "Stint stored: 29\N{NO-BREAK SPACE}km in 7 laps." in answer.content.decode()
    stint = Stint.objects.get()
    assert stint.distance_km == pytest.approx(28.84)
    hot = PressureReading.objects.get(tire=fitted["front"].tire)
    assert hot.pressure_kpa == pytest.approx(33.5 * KPA_PER_PSI, abs=0.01)
    assert stint.feel_notes.get().feel == "good"


def test_the_times_of_the_slot_are_filled_in(as_, rider, entry, slot, fitted, layout):
    page = as_(rider.person).get(reverse("stint", args=[fitted["front"].wheel_pair_id])).content.decode()

    starts_at = slot.starts_at.astimezone(ZoneInfo(layout.track.time_zone))
    assert f'value="{starts_at:%Y-%m-%dT%H:%M}"' in page


def test_a_stint_sent_twice_is_stored_once(as_, rider, day, entry, fitted, local):
    client, form = as_(rider.person), stint_form(day, local)

    for _ in range(2):
        answer = client.post(reverse("stint", args=[fitted["front"].wheel_pair_id]), form)

    assert answer.status_code == 302
    assert Stint.objects.count() == 1


def test_a_pressure_in_bar_is_read_in_bar(as_, rider, day, entry, fitted, local):
    rider.person.pressure_unit = "bar"
    rider.person.save()

    as_(rider.person).post(
        reverse("stint", args=[fitted["front"].wheel_pair_id]),
        stint_form(day, local, front_in_kpa="2,31", rear_in_kpa="2.2"),
    )

    hot = PressureReading.objects.get(tire=fitted["front"].tire)
    assert hot.pressure_kpa == pytest.approx(231.0)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"front_in_kpa": "290"}, "290 psi is not plausible: give 7.3 to 101.5 psi."),
        ({"front_in_kpa": "a lot"}, "is no number: give psi, such as"),
        ({"laps": ""}, "Give the laps on a layout"),
        ({"started_at": ""}, "Out at is missing"),
        ({"started_at": "half past nine"}, "is no date and time: give one such as"),
        ({"feel": "meh"}, "Select a valid choice"),
    ],
)
def test_a_refused_stint_says_why_and_keeps_what_was_typed(
    as_, rider, day, entry, fitted, local, changes, sentence
):
    form = stint_form(day, local, **changes)

    answer = as_(rider.person).post(reverse("stint", args=[fitted["front"].wheel_pair_id]), form)

    page = answer.content.decode()
    assert answer.status_code == 422
    assert page.count(sentence) == 2
    assert 'value="32"' in page
    assert form["key"] in page
    assert not Stint.objects.exists()


def test_a_stint_over_another_is_refused_on_top(as_, rider, day, entry, fitted, local):
    client = as_(rider.person)
    client.post(reverse("stint", args=[fitted["front"].wheel_pair_id]), stint_form(day, local))

    answer = client.post(reverse("stint", args=[fitted["front"].wheel_pair_id]), stint_form(day, local))

    assert answer.status_code == 422
    assert "Another stint of this wheel pair covers part of that time" in answer.content.decode()


def test_a_ride_on_the_road_needs_its_distance(as_, rider, day, fitted, now):
    # Without an entry the form's clock is UTC, and the road has no track whose clock would count instead.
    form = stint_form(day, now.replace(tzinfo=None), place="road", laps="", distance_km="40")

    as_(rider.person).post(reverse("stint", args=[fitted["front"].wheel_pair_id]), form)

    assert Stint.objects.get().is_on_road
    assert Stint.objects.get().distance_km == 40.0


def test_a_tires_page_tells_its_story(as_, rider, day, entry, assessed, local, now):
    tire = assessed["rear"].tire
    client = as_(rider.person)
    client.post(reverse("stint", args=[assessed["rear"].wheel_pair_id]), stint_form(day, local))
    for zone, depth_mm in (("C", 5.4), ("R1", 5.6)):
        record_tread(by=rider.person, at=now, tire=tire, zone=zone, taken_at=now, depth_mm=depth_mm)

    page = client.get(reverse("tire", args=[tire.pk])).content.decode()

    assert "fitted by Tarn Tire Service" in page
    assert "5.4\N{NO-BREAK SPACE}mm" in page
    assert '<svg class="plot"' in page
    assert "Marram Point Circuit, Full" in page


def test_a_flag_is_shown_until_it_was_seen(as_, rider, fitted, now):
    flag = Flag.objects.create(
        tire=fitted["rear"].tire, state="last day", binding_limit="tread", raised_at=now
    )
    client = as_(rider.person)
    before = client.get("/garage/").content.decode()

    client.post(reverse("flag-seen", args=[flag.pk]))

    assert "Last day" in before
    assert reverse("flag-seen", args=[flag.pk]) not in client.get("/garage/").content.decode()


def test_another_riders_things_are_not_there(as_, rider, other_rider, fitted, day, local, now):
    flag = Flag.objects.create(
        tire=fitted["rear"].tire, state="last day", binding_limit="tread", raised_at=now
    )
    client = as_(other_rider.person)

    answers = [
        client.get(reverse("tire", args=[fitted["rear"].tire_id])),
        client.get(reverse("stint", args=[fitted["rear"].wheel_pair_id])),
        client.post(reverse("stint", args=[fitted["rear"].wheel_pair_id]), stint_form(day, local)),
        client.post(reverse("flag-seen", args=[flag.pk])),
    ]

    assert [answer.status_code for answer in answers] == [404, 404, 404, 404]
    assert not Stint.objects.exists()


def test_a_fitter_sees_the_tire_but_not_the_stints(as_, fitter, rider, fitted, entry, day, now):
    log_stint(
        by=rider.person,
        at=now,
        wheel_pair=fitted["rear"].wheel_pair,
        started_at=now - timedelta(minutes=30),
        ended_at=now - timedelta(minutes=10),
        day=day,
        laps=7,
    )

    page = as_(fitter).get(reverse("tire", args=[fitted["rear"].tire_id])).content.decode()

    assert "does not share stints with you" in page


def test_an_empty_garage_says_what_to_do_first(as_, rider):
    page = as_(rider.person).get("/garage/").content.decode()

    assert "Add your bike here, or hand your wheels in at your vendor" in page


def test_more_bikes_ask_the_database_no_more_often(
    as_, rider, assessed, guidance, tarn, now, front_lot, django_assert_num_queries
):
    client = as_(rider.person)
    with django_assert_num_queries(24) as counted:
        client.get("/garage/")
    for number in range(2):
        bike = add_bike(by=SERVICE, rider=rider, code=f"more-{number}", description="600 sport")
        pair = add_wheel_pair(by=SERVICE, bike=bike, code=f"more-{number}", name="dry")
        fit_tire(by=SERVICE, at=now, wheel_pair=pair, axle="front", fitted_at=now, lot=front_lot)

    with django_assert_num_queries(len(counted)):
        page = client.get("/garage/").content.decode()

    assert page.count("600 sport") == 2


def test_a_tire_that_must_not_go_out_gets_no_start_pressure(as_, rider, guidance, fitted, now):
    note_surface(by=SERVICE, at=now, tire=fitted["rear"].tire, look="cord", seen_at=now)
    assess(None, at=now)

    page = as_(rider.person).get("/garage/").content.decode()

    assert page.count("No start pressure: this tire should not go out.") == 1
    assert page.count("Set now, tire at") == 1


def test_the_trailer_gives_no_start_pressure_for_such_a_tire_either(
    as_, fitter, tarn, wheel_pair, guidance, fitted, now
):
    note_surface(by=SERVICE, at=now, tire=fitted["rear"].tire, look="cord", seen_at=now)
    assess(None, at=now)
    ticket = take_wheels_in(by=fitter, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())

    for route in ("ticket", "slip"):
        page = as_(fitter).get(reverse(route, args=[ticket.pk])).content.decode()
        assert page.count("No start pressure: this tire should not go out.") == 1
