"""A forecast pasted at the desk, and the picture of the day's weather."""

import re
import uuid
from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.events.actions import record_conditions
from fleet.events.models import Conditions
from fleet.pages.weather_charts import curves_of
from fleet.quantities import TEMPERATURE


@pytest.fixture
def send(as_, crew, day):
    def sent(text, **changes):
        form = {"text": text, "source": "a service", "key": str(uuid.uuid4())} | changes
        return as_(crew).post(reverse("forecast", args=[day.pk]), form, follow=True)

    return sent


def test_a_pasted_forecast_is_stored_and_drawn(send):
    page = send("time,air_c\n9:00,14\n12:00,19\n15:00,22").content.decode()

    assert "3 hours stored" in page
    assert Conditions.objects.filter(standing="forecast").count() == 3
    assert page.count("zone-line is-forecast") == 4  # two lines and their keys
    assert "Air, forecast" in page
    assert "observed</span>" not in page.split("<figcaption>")[1].split("</figcaption>")[0]


def test_cells_pasted_from_a_spreadsheet_are_parted_by_tabs(send):
    send("time\tair_c\tqnh_hpa\n9:00\t14\t1016")

    assert Conditions.objects.get().air_c == 14.0


def test_a_forecast_of_several_days_gives_the_day_its_hours_and_says_so(send, day):
    other = day.date + timedelta(days=1)
    text = f"time,air_c\n{day.date}T09:00,14\n{day.date}T12:00,19\n{other}T09:00,30"

    page = send(text).content.decode()

    assert "2 hours stored; 1 of other days passed over" in page
    assert "30" not in {f"{one.air_c:g}" for one in Conditions.objects.all()}


@pytest.mark.parametrize(
    ("text", "changes", "sentence"),
    [
        ("time,air_c\n2001-05-01T09:00,14", {}, "it is about Tue 01 May 2001"),
        ("time,air_c\n9:00,hot", {}, "Line 2, air_c"),
        ("", {}, "No hour is given"),
        ("time,air_c\n9:00,14", {"source": ""}, "Where it comes from is missing"),
        ("hour,air_c\n9:00,14", {}, "There is no such column"),
    ],
)
def test_what_is_wrong_is_said_and_the_text_stays(send, text, changes, sentence):
    answer = send(text, **changes)

    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert text in page
    assert not Conditions.objects.exists()


def test_the_picture_tells_observed_from_forecast_and_keeps_the_newest_forecast(day, now):
    def known(hour_ago, air_c, standing, recorded):
        return record_conditions(
            by=SERVICE, at=now + timedelta(seconds=recorded), day=day, holds_at=now - timedelta(hours=hour_ago),
            standing=standing, source="s", air_c=air_c, track_surface_c=air_c + 10,
        )  # fmt: skip

    for given in (
        (2, 15.0, "forecast", 0),
        (1, 17.0, "forecast", 0),
        (2, 16.0, "forecast", 5),
        (2, 14.0, "observed", 1),
    ):
        known(*given)

    curves = {
        curve.name: [value for _, value in curve.points]
        for curve in curves_of(Conditions.objects.all(), zone="UTC", unit=TEMPERATURE["C"])
    }

    assert curves == {
        "air, observed": [14.0],
        "air, forecast": [16.0, 17.0],
        "track surface, observed": [24.0],
        "track surface, forecast": [26.0, 27.0],
    }


def test_one_moment_makes_no_picture_and_frost_is_drawn_within_the_frame(as_, crew, day, now):
    def draw(air_c, hours_ago):
        record_conditions(
            by=SERVICE, at=now, day=day, holds_at=now - timedelta(hours=hours_ago), standing="observed", source="s",
            air_c=air_c, track_surface_c=air_c,
        )  # fmt: skip
        return as_(crew).get(reverse("day", args=[day.pk])).content.decode()

    assert "day-weather" not in draw(-7.0, 2)
    page = draw(2.0, 0)
    heights = [float(y) for y in re.findall(r'class="zone-line" d="M[\d.]+ ([\d.]+)L', page)]
    assert heights
    assert all(12 <= y <= 150 for y in heights)
