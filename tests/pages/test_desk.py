"""The event desk: weather, draft, bulletin, gate."""

import re
import uuid
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import publish_pressure
from fleet.events.actions import add_day, enter
from fleet.events.models import Conditions
from fleet.garage.actions import add_bike, add_wheel_pair, register_rider
from fleet.inventory.actions import fit_tire, place_hold
from fleet.life.models import Assessment
from fleet.pressures.actions import draft_day
from fleet.pressures.models import Bulletin, Guidance

KPA_PER_PSI = 6.894757293168  # NIST SP 811 (2008), appendix B.8: pound-force per square inch


def weather_form(day, now, **changes):
    form = {
        "air_c": "22",
        "track_surface_c": "",
        "cloud_fraction": "0.44",
        "dew_point_c": "",
        "altimeter_kpa": "1016",
        "barometer_kpa": "",
        "holds_at": f"{now.astimezone(ZoneInfo(day.layout.track.time_zone)):%Y-%m-%dT%H:%M}",
        "standing": "observed",
        "source": "own thermometer",
        "key": str(uuid.uuid4()),
    }
    return form | changes


def test_the_days_are_listed_with_what_is_in_force(as_, crew, day, entry, bulletin):
    page = as_(crew).get("/desk/").content.decode()

    assert "Longfield June Friday" in page
    assert "1 entry" in page
    assert "bulletin 1 in force" in page


def test_an_empty_desk_says_what_to_do_first(as_, crew):
    assert "No day is planned" in as_(crew).get("/desk/").content.decode()


def test_weather_by_number_is_stored_with_the_surface_estimated(as_, crew, day, now):
    answer = as_(crew).post(reverse("weather", args=[day.pk]), weather_form(day, now), follow=True)

    stored = Conditions.objects.get()
    assert stored.air_c == 22.0
    assert stored.track_surface_standing == "estimated"
    # ICAO Doc 7488: 1016 hPa at sea level is about 2.2 hPa less at 18 m
    assert stored.barometer_kpa == pytest.approx(101.38, abs=0.03)
    assert "estimated" in answer.content.decode()


def test_a_person_who_reads_fahrenheit_types_fahrenheit(as_, crew, day, now):
    crew.temperature_unit = "F"
    crew.save()

    as_(crew).post(reverse("weather", args=[day.pk]), weather_form(day, now, air_c="77"))

    assert Conditions.objects.get().air_c == pytest.approx(25.0)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"air_c": "210"}, "210 °C is not plausible: give \N{MINUS SIGN}40 to 60 °C."),
        ({"air_c": ""}, "Air, °C is missing"),
        ({"altimeter_kpa": "101.6"}, "101.6 hPa is not plausible: give 870 to 1085 hPa."),
        ({"source": ""}, "Where it comes from is missing"),
        ({"standing": "guessed"}, "Select a valid choice"),
    ],
)
def test_refused_weather_says_why_and_keeps_what_was_typed(as_, crew, day, now, changes, sentence):
    form = weather_form(day, now, dew_point_c="11", **changes)

    answer = as_(crew).post(reverse("weather", args=[day.pk]), form)

    page = answer.content.decode()
    assert answer.status_code == 422
    assert page.count(sentence) == 2
    assert 'value="11"' in page
    assert not Conditions.objects.exists()


def test_a_metar_without_a_temperature_is_refused_and_kept(as_, crew, day):
    report = "METAR XXXX 191550Z 24008KT CAVOK Q1016"

    answer = as_(crew).post(
        reverse("metar", args=[day.pk]), {"report-metar": report, "report-key": str(uuid.uuid4())}
    )

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "no temperature group" in page
    assert report in page


def test_the_weather_page_opens_on_the_report_and_not_when_something_else_is_to_mend(as_, crew, day, now):
    client, address = as_(crew), reverse("weather", args=[day.pk])

    opened = client.get(address).content.decode()
    refused = client.post(address, weather_form(day, now, air_c="")).content.decode()

    assert opened.count("autofocus") == 1
    assert "autofocus" not in refused


def test_a_report_of_another_day_is_refused_at_its_field(as_, crew, day, now):
    report = f"METAR XXXX {now - timedelta(days=5):%d%H%M}Z 24008KT CAVOK 22/12 Q1016"

    page = (
        as_(crew)
        .post(reverse("metar", args=[day.pk]), {"report-metar": report, "report-key": str(uuid.uuid4())})
        .content.decode()
    )

    assert '<a href="#id_report-metar">These conditions hold at another date than the day' in page


def test_a_pasted_metar_becomes_the_weather_of_the_day(as_, crew, day, now):
    report = f"METAR XXXX {now:%d%H%M}Z 24008KT CAVOK 22/12 Q1016"

    answer = as_(crew).post(
        reverse("metar", args=[day.pk]),
        {"report-metar": report, "report-track_surface_c": "38", "report-key": str(uuid.uuid4())},
    )

    assert answer.status_code == 302
    stored = Conditions.objects.get()
    assert (stored.air_c, stored.dew_point_c, stored.track_surface_c) == (22.0, 12.0, 38.0)


def test_a_draft_is_computed_looked_at_and_issued(as_, director, day, entry, fitted, conditions):
    client = as_(director)

    drafted = client.post(reverse("draft", args=[day.pk]), follow=True).content.decode()
    seen = Guidance.objects.get(is_newest=True)
    issued = client.post(reverse("issue", args=[day.pk]), {"guidance": seen.pk}, follow=True)

    assert "Issue bulletin 1" in drafted
    assert "Bulletin 1 is issued" in issued.content.decode()
    assert Bulletin.objects.get().issued_by == director


def test_the_draft_says_what_changed_against_the_bulletin(
    as_, director, day, bulletin, line, front_spec, now
):
    publish_pressure(
        by=SERVICE,
        line=line,
        spec=front_spec,
        axle="front",
        basis="hot",
        pressure_kpa=250.0,
        published_by="Mirrin, invented",
    )
    client = as_(director)
    client.post(reverse("weather", args=[day.pk]), weather_form(day, now, air_c="21"))
    draft_day(by=SERVICE, at=now, day=day)

    page = client.get(reverse("day", args=[day.pk])).content.decode()

    assert "Against bulletin 1" in page
    assert re.search(r"<strong>[+\N{MINUS SIGN}]\d+\.\d</strong> spec", page)
    assert 'data-is="Against bulletin 1">same</td>' in page


def test_a_draft_somebody_overtook_is_not_issued(as_, director, day, guidance, now):
    client = as_(director)
    client.post(reverse("weather", args=[day.pk]), weather_form(day, now, air_c="30", track_surface_c="50"))
    draft_day(by=SERVICE, at=now, day=day)

    answer = client.post(reverse("issue", args=[day.pk]), {"guidance": guidance.pk})

    assert answer.status_code == 422
    assert "The draft changed since you looked at it" in answer.content.decode()
    assert not Bulletin.objects.exists()


def test_crew_draft_but_do_not_issue(as_, crew, day, guidance):
    client = as_(crew)

    page = client.get(reverse("day", args=[day.pk])).content.decode()
    answer = client.post(reverse("issue", args=[day.pk]), {"guidance": guidance.pk})

    assert "The event director issues it" in page
    assert "Issue bulletin" not in page
    assert answer.status_code == 403


def test_a_bulletin_is_withdrawn_with_a_reason(as_, director, day, bulletin):
    client = as_(director)

    without = client.post(reverse("withdraw", args=[day.pk, 1]), {"reason": ""})
    answer = client.post(reverse("withdraw", args=[day.pk, 1]), {"reason": "wrong weather"}, follow=True)

    assert without.status_code == 422
    assert "What was wrong is missing" in without.content.decode()
    assert "withdrawn" in answer.content.decode()
    bulletin.refresh_from_db()
    assert bulletin.withdrawn_because == "wrong weather"


def near_its_end(fitted, now):
    Assessment.objects.filter(tire=fitted["rear"].tire, is_newest=True).update(
        state="last day", binding_limit="tread", remaining_days_50=0.6
    )


def test_riders_near_the_end_are_listed_with_their_number(as_, crew, day, entry, assessed, now):
    near_its_end(assessed, now)

    page = as_(crew).get(reverse("day", args=[day.pk])).content.decode()

    assert "Robin Vale" in page
    assert "Last day" in page
    assert "?number=27" in page


def test_the_gate_shows_both_tires_of_a_number(as_, inspector, day, entry, assessed):
    page = as_(inspector).get(reverse("gate", args=[day.pk]), {"number": "27"}).content.decode()

    assert "Robin Vale" in page
    assert page.count("label ") >= 2


def test_an_unknown_number_says_so(as_, inspector, day, entry):
    page = as_(inspector).get(reverse("gate", args=[day.pk]), {"number": "99"}).content.decode()

    assert "Nobody rides with the number 99" in page


def test_another_organisations_hold_is_not_lifted_here(as_, inspector, day, entry, fitted, tarn, now):
    tire = fitted["rear"].tire
    hold = place_hold(by=SERVICE, at=now, tire=tire, placed_for=tarn, reason="damage", placed_at=now)

    answer = as_(inspector).post(reverse("lift-hold", args=[day.pk, hold.pk]), {"reason": "looks fine"})

    assert answer.status_code == 404
    hold.refresh_from_db()
    assert hold.lifted_at is None


@pytest.mark.parametrize("route", ["day", "weather", "gate"])
def test_another_organisers_day_is_not_there(as_, crew, breckside, day, event, route):
    event.organiser = breckside
    event.save()

    answer = as_(crew).get(reverse(route, args=[day.pk]))

    assert answer.status_code == 404


@pytest.mark.parametrize("route", ["draft", "issue", "metar", "weather"])
def test_another_organisers_day_takes_no_form(as_, director, breckside, day, event, route):
    event.organiser = breckside
    event.save()

    answer = as_(director).post(reverse(route, args=[day.pk]))

    assert answer.status_code == 404


def ride(day, group, number, rear_lot, now):
    rider = register_rider(by=SERVICE, code=f"e-{number}", name=f"Entrant {number}")
    bike = add_bike(by=SERVICE, rider=rider, code=f"eb-{number}", description="600 sport")
    pair = add_wheel_pair(by=SERVICE, bike=bike, code=f"ew-{number}", name="dry")
    enter(by=SERVICE, day=day, bike=bike, group=group, number=str(100 + number))
    if number < 3:
        fitting = fit_tire(by=SERVICE, at=now, wheel_pair=pair, axle="rear", fitted_at=now, lot=rear_lot)
        place_hold(
            by=SERVICE, at=now, tire=fitting.tire, placed_for=rear_lot.vendor, reason="recall", placed_at=now
        )


def test_more_entrants_ask_the_database_no_more_often(
    as_, crew, day, group, guidance, assessed, rear_lot, now, django_assert_num_queries
):
    client, address = as_(crew), reverse("day", args=[day.pk])
    ride(day, group, 0, rear_lot, now)
    with django_assert_num_queries(31) as counted:
        client.get(address)
    for number in range(1, 7):
        ride(day, group, number, rear_lot, now)

    with django_assert_num_queries(len(counted)):
        page = client.get(address).content.decode()

    assert page.count("On hold") == 3


def test_more_days_ask_the_database_no_more_often(
    as_, crew, event, day, layout, bulletin, django_assert_num_queries
):
    client = as_(crew)
    with django_assert_num_queries(13) as counted:
        client.get("/desk/")
    for shift in range(1, 6):
        add_day(by=SERVICE, event=event, date=day.date + timedelta(days=shift), layout=layout)

    with django_assert_num_queries(len(counted)):
        page = client.get("/desk/").content.decode()

    assert page.count("Longfield June Friday") == 6
