"""Conditions: observed, forecast and estimated, in force, voided; and METAR reports that others published."""

import uuid
from datetime import UTC, date, datetime, timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.errors import AlreadyVoided, InTheFuture, Invalid, KeyReused, NotAllowed, NotFound
from fleet.events.actions import add_day, record_conditions, record_metar, void_conditions
from fleet.events.models import Conditions, Day
from fleet.events.queries import conditions_for, conditions_in_force
from fleet.events.weather import read_metar


@pytest.fixture
def record(day, now):
    def do(**changes):
        given = {
            "by": SERVICE,
            "at": now,
            "day": day,
            "holds_at": now - timedelta(minutes=10),
            "standing": "observed",
            "source": "paddock thermometer",
            "air_c": 24.0,
        }
        return record_conditions(**(given | changes))

    return do


# Reports as printed in: FAA Aeronautical Information Manual (first), ICAO Annex 3 (fourth, from memory), the others as
# collected with their decoded values; layout of WMO-No. 306, FM 15, tenths of a degree in remarks by FMH-1.
PUBLISHED = [
    (
        "KPIT 091955Z COR 22015G25KT 3/4SM R28L/2600FT TSRA OVC010CB 18/16 A2992 RMK SLP045 T01820159",
        18.2,
        15.9,
        1013.21,
        1.0,
    ),
    ("KBIL 162256Z 29017G27KT 10SM M02/M02 A2961 RMK SLP205 T10171022", -1.7, -2.2, 1002.71, None),
    ("SVVA 171100Z 00000KT 9999 FEW016 BKN250 21/19 Q1013 NOSIG", 21.0, 19.0, 1013.0, 0.75),
    ("YUDO 221630Z 24004MPS 0600 R12/1000U DZ FG SCT010 OVC020 17/16 Q1018", 17.0, 16.0, 1018.0, 1.0),
]


@pytest.mark.parametrize(("report", "air_c", "dew_point_c", "altimeter_hpa", "cloud"), PUBLISHED)
def test_published_reports_are_read(report, air_c, dew_point_c, altimeter_hpa, cloud, track):
    track.altitude_m = 0.0

    weather = read_metar(report, track=track, seen_at=datetime(2026, 6, 25, 12, 0, tzinfo=UTC))

    assert weather.air_c == pytest.approx(air_c, abs=0.05)
    assert weather.dew_point_c == pytest.approx(dew_point_c, abs=0.05)
    assert weather.barometer_kpa == pytest.approx(altimeter_hpa / 10, abs=0.01)
    assert weather.cloud_fraction == cloud


# The barometer at the track from the report's altimeter setting: 1020 hPa at 500 m is 961.040 hPa, by the formula of
# the US Standard Atmosphere 1976 (computed; published variants differ by at most 0.5 hPa).
def test_the_altimeter_setting_is_brought_to_the_tracks_altitude(track):
    track.altitude_m = 500.0

    weather = read_metar(
        "SVVA 121100Z 00000KT 9999 21/19 Q1020", track=track, seen_at=datetime(2026, 6, 12, 12, 0, tzinfo=UTC)
    )

    assert weather.barometer_kpa == pytest.approx(96.104, abs=0.05)
    assert weather.barometer_standing == "estimated"


def test_a_published_report_becomes_the_observed_conditions_of_a_day(event, layout, crew, track):
    day = add_day(by=SERVICE, event=event, date=date(2026, 6, 17), layout=layout)
    report = PUBLISHED[2][0]

    row = record_metar(by=crew, at=datetime(2026, 6, 17, 11, 20, tzinfo=UTC), day=day, metar=report)

    assert (row.air_c, row.dew_point_c, row.standing) == (21.0, 19.0, "observed")
    assert row.holds_at == datetime(2026, 6, 17, 11, 0, tzinfo=UTC)
    assert row.source == report
    assert row.track_surface_standing == "estimated"


def test_a_report_without_a_temperature_is_refused_with_what_to_do(day, crew, now):
    report = "KGTF 120322Z 36010KT 3SM -SN BR OVC005 A2991"  # a published report of that kind, its day moved

    with pytest.raises(Invalid, match="no temperature group") as refused:
        record_metar(by=crew, at=now, day=day, metar=report)

    assert refused.value.field == "metar"
    assert not Conditions.objects.exists()


@pytest.mark.parametrize("text", ["", "nice and sunny", "METAR", "XXXX 991234Z 00000KT 21/19 Q1013", "\x00"])
def test_what_is_no_report_is_refused(text, day, now):
    with pytest.raises(Invalid, match="not a readable METAR") as refused:
        record_metar(by=SERVICE, at=now, day=day, metar=text)

    assert refused.value.field == "metar"


def test_a_forecast_of_an_airfield_is_called_one(day, now):
    with pytest.raises(Invalid, match=r"This is a forecast \(TAF\)"):
        record_metar(by=SERVICE, at=now, day=day, metar="taf XXXX 120500Z 1206/1306 24008KT CAVOK TX22/1213Z")


def test_a_report_from_before_midnight_on_the_first_belongs_to_last_month(event, layout):
    first = add_day(by=SERVICE, event=event, date=date(2026, 7, 1), layout=layout)
    just_after_midnight = datetime(2026, 7, 1, 0, 10, tzinfo=UTC)

    row = record_metar(
        by=SERVICE,
        at=just_after_midnight,
        day=first,
        metar="SVVA 302350Z 00000KT CAVOK 17/12 Q1013",
    )

    assert row.holds_at == datetime(2026, 6, 30, 23, 50, tzinfo=UTC)


def test_a_report_of_another_day_is_refused_for_this_one(day, now):
    with pytest.raises(
        Invalid, match=r"another date than the day, on Mon 01 Jun 2026, and the day is Fri 12 Jun"
    ):
        record_metar(by=SERVICE, at=now, day=day, metar="SVVA 011100Z 00000KT CAVOK 17/12 Q1013")


def test_groups_nobody_knows_do_not_spoil_a_report(day, now):
    row = record_metar(by=SERVICE, at=now, day=day, metar="svva 121050z 00000kt cavok xyz123 17/12 q1013")

    assert row.air_c == 17.0


def test_what_nobody_measured_is_estimated_and_marked_so(record):
    row = record()

    assert row.barometer_standing == row.track_surface_standing == "estimated"
    assert row.barometer_kpa == pytest.approx(
        101.1, abs=0.1
    )  # ISO 2533 standard atmosphere at 18 m: 1011.1 hPa
    assert row.track_surface_c > row.air_c


def test_what_was_measured_stands_as_measured(record):
    row = record(barometer_kpa=100.2, track_surface_c=41.0)

    assert (row.barometer_kpa, row.track_surface_c) == (100.2, 41.0)
    assert row.barometer_standing == row.track_surface_standing == "observed"


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"air_c": 75.0}, "air_c", "check the unit"),
        ({"air_c": float("nan")}, "air_c", "no measurement"),
        ({"barometer_kpa": 1013.25}, "barometer_kpa", "kPa at the track"),
        ({"barometer_kpa": 29.92}, "barometer_kpa", "kPa at the track"),
        ({"track_surface_c": 104.0}, "track_surface_c", "check the unit"),
        ({"cloud_fraction": 8.0}, "cloud_fraction", "at most 1"),
        ({"dew_point_c": 27.0}, "dew_point_c", "were they swapped"),
        ({"standing": "guessed"}, "standing", "guessed"),
        ({"source": ""}, "source", "blank"),
    ],
)
def test_weather_that_cannot_be_is_refused_with_the_reason(changes, field, says, record):
    with pytest.raises(Invalid, match=says) as refused:
        record(**changes)

    assert refused.value.field == field
    assert not Conditions.objects.exists()


def test_an_observation_of_the_future_is_refused_but_a_forecast_is_not(record, now):
    ahead = now + timedelta(hours=3)

    with pytest.raises(InTheFuture):
        record(holds_at=ahead)

    assert record(holds_at=ahead, standing="forecast").standing == "forecast"


def test_conditions_of_another_date_are_refused(record, now):
    with pytest.raises(Invalid) as refused:
        record(holds_at=now - timedelta(days=3))

    assert refused.value.field == "holds_at"


def test_the_latest_observation_is_in_force_before_any_forecast(record, day, now):
    record(holds_at=now + timedelta(minutes=5), standing="forecast", air_c=30.0)
    record(holds_at=now - timedelta(hours=2), air_c=20.0)
    latest = record(air_c=25.0)

    assert conditions_in_force(day, at=now) == latest
    assert conditions_in_force(day, at=now - timedelta(hours=1)).air_c == 20.0


def test_an_observation_of_the_evening_before_does_not_guide_the_day(record, day, slot, now):
    record(at=now - timedelta(hours=12), holds_at=now - timedelta(hours=13), air_c=14.0)
    forecast = record(holds_at=slot.starts_at, standing="forecast", air_c=27.0)

    assert conditions_in_force(day, at=now - timedelta(hours=12)) == forecast


def test_an_old_observation_gives_way_to_a_nearer_forecast_and_stays_without_one(record, day, now):
    morning = record(holds_at=now - timedelta(hours=4))
    assert conditions_in_force(day, at=now) == morning

    midday = record(standing="forecast", holds_at=now + timedelta(minutes=30), air_c=29.0)

    assert conditions_in_force(day, at=now) == midday
    assert conditions_in_force(day, at=now - timedelta(hours=3)) == morning


def test_without_an_observation_the_forecast_nearest_to_the_first_slot_is_in_force(record, day, slot, now):
    record(holds_at=now + timedelta(hours=6), standing="forecast", air_c=32.0)
    near = record(holds_at=slot.starts_at, standing="forecast", air_c=26.0)

    assert conditions_in_force(day, at=now - timedelta(hours=12)) == near


def test_voided_conditions_are_kept_but_no_longer_in_force(record, day, crew, now):
    row = record()

    void_conditions(by=crew, at=now, conditions=row, reason="thermometer in the sun")

    assert conditions_in_force(day, at=now) is None
    assert Conditions.objects.get().void_reason == "thermometer in the sun"
    with pytest.raises(AlreadyVoided):
        void_conditions(by=crew, at=now, conditions=row, reason="again")


def test_new_and_voided_conditions_mark_the_day_for_a_new_draft(record, day, now):
    row = record()
    after_record = Day.objects.get(pk=day.pk).revision
    void_conditions(by=SERVICE, at=now, conditions=row, reason="slip")

    assert day.revision < after_record < Day.objects.get(pk=day.pk).revision


def test_conditions_sent_twice_are_stored_once_and_their_key_serves_no_other(record):
    key = uuid.uuid4()

    assert record(key=key) == record(key=key)

    with pytest.raises(KeyReused, match="air_c"):
        record(key=key, air_c=25.0)
    assert Conditions.objects.count() == 1


def test_only_crew_and_director_record_and_void_conditions(
    record, day, director, inspector, tester, fitter, rider_person, now
):
    row = record(by=director)

    for member in (inspector, tester):
        with pytest.raises(NotAllowed):
            record(by=member)
        with pytest.raises(NotAllowed):
            void_conditions(by=member, at=now, conditions=row, reason="x")
    for nobody in (fitter, rider_person):
        with pytest.raises(NotFound):
            record(by=nobody)
        with pytest.raises(NotFound):
            record_metar(by=nobody, at=now, day=day, metar="SVVA 121050Z 00000KT CAVOK 17/12 Q1013")
        with pytest.raises(NotFound):
            void_conditions(by=nobody, at=now, conditions=row, reason="x")


def test_conditions_are_seen_by_the_organisers_people_and_entrants(
    record, entry, crew, rider_person, other_rider, fitter
):
    row = record()

    assert list(conditions_for(crew)) == list(conditions_for(rider_person)) == [row]
    assert not conditions_for(other_rider.person).exists()
    assert not conditions_for(fitter).exists()
