"""The calendar's page and its secret address."""

import re

from django.test import Client
from django.urls import reverse


def test_an_address_is_shown_once_and_read_without_signing_in(as_, rider, entry, slot):
    client = as_(rider.person)

    made = client.post(reverse("calendar")).content.decode()
    again = client.get(reverse("calendar")).content.decode()
    path = re.search(r"/calendar/[\w-]{43}\.ics", made)[0]
    read = Client().get(path)

    assert path not in again
    assert "Make a new address" in again
    assert read["Content-Type"] == "text/calendar; charset=utf-8"
    assert read["Cache-Control"] == "private, max-age=300"
    assert read.content.count(b"BEGIN:VEVENT") == 1
    client.post(reverse("end-calendar"))
    assert Client().get(path).status_code == 404


def test_an_address_nobody_made_leads_nowhere(db):
    assert Client().get(reverse("calendar-feed", args=["x" * 43])).status_code == 404


def test_its_links_lead_to_the_address_set_for_the_public(as_, rider, entry, slot, settings):
    settings.PUBLIC_ADDRESS = "https://tires.example.org"

    made = as_(rider.person).post(reverse("calendar")).content.decode()
    path = re.search(r"https://tires\.example\.org(/calendar/[\w-]{43}\.ics)", made)[1]

    assert f"https://tires.example.org/b/{entry.day.public_code}/" in re.sub(
        r"\r\n ", "", Client().get(path).content.decode()
    )


def test_whoever_does_not_ride_has_no_calendar(as_, crew):
    assert as_(crew).get(reverse("calendar")).status_code == 403
