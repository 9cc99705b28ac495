"""A rider takes a tire off their own wheel, and puts one they have on again."""

import re
import uuid
from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.inventory.models import Fitting, Removal, Tire


@pytest.fixture
def client(as_, rider_person, fitted):
    return as_(rider_person)


@pytest.fixture
def off(client, wheel_pair, fitted, now):
    """Send the form for the rear, filled in unless told otherwise."""

    def send(how=None, **changes):
        said = {
            "reason": "swap",
            "destination": "handed_back",
            "removed_at": f"{now - timedelta(minutes=5):%Y-%m-%dT%H:%M}",
            "fitting": fitted["rear"].pk,
            "key": uuid.uuid4(),
        }
        headers = {"Outbox": how, "Outbox-Person": str(wheel_pair.bike.rider.person_id)} if how else {}
        address = reverse("tire-off", args=[wheel_pair.pk, "rear"])
        return client.post(address, said | changes, headers=headers)

    return send


def words(answer):
    return re.sub(r"\s+", " ", answer.content.decode())


def test_it_is_off_with_its_reason_and_stands_among_the_tires_off_the_wheel(
    off, client, fitted, rider_person
):
    assert reverse("tire-off", args=[fitted["rear"].wheel_pair_id, "rear"]) in words(
        client.get(reverse("wheels", args=[fitted["rear"].wheel_pair.bike_id]))
    )

    assert off().status_code == 302

    removal = Removal.objects.get()
    assert (removal.fitting_id, removal.reason, removal.destination) == (
        fitted["rear"].pk,
        "swap",
        "handed_back",
    )
    assert (removal.vendor, removal.recorded_by) == (None, rider_person)
    assert fitted["rear"].tire.label_code in words(client.get(reverse("spare-tires")))


def test_a_scrapped_one_stands_nowhere_among_those_to_use(off, client, fitted):
    off(reason="worn", destination="scrapped")

    assert fitted["rear"].tire.label_code not in words(client.get(reverse("spare-tires")))


def test_a_form_with_nothing_chosen_says_what_is_missing_and_keeps_the_rest(off):
    answer = off(reason="", destination="", removed_at="2031-01-01T10:00")

    assert answer.status_code == 422
    page = words(answer)
    assert "Why is missing" in page
    assert "What becomes of it is missing" in page
    assert "2031-01-01T10:00" in page
    assert not Removal.objects.exists()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"removed_at": "2031-01-01T10:00"}, "has not come yet"),
        ({"removed_at": "2001-01-01T10:00"}, "removed after it was fitted"),
        ({"destination": "on_hold"}, "Select a valid choice"),
    ],
)
def test_what_cannot_be_is_refused(off, changes, said):
    answer = off(**changes)

    assert answer.status_code == 422
    assert said in words(answer)
    assert not Removal.objects.exists()


def test_an_entry_sent_twice_by_a_device_takes_it_off_once(off):
    key = uuid.uuid4()

    answers = [off(how="waiting", key=key) for _ in range(2)]

    assert ["stored" in answer.json() for answer in answers] == [True, True]
    assert Removal.objects.count() == 1


def test_an_entry_that_waited_takes_off_no_tire_that_was_put_on_since(off, client, wheel_pair, fitted, now):
    off()
    spare = fitted["rear"].tire
    answer = client.post(
        reverse("own-tire", args=[wheel_pair.pk]),
        {"tire": spare.pk, "fitted_at": f"{now:%Y-%m-%dT%H:%M}", "key": uuid.uuid4()},
    )
    assert answer.status_code == 302

    late = off(how="waiting")

    assert late.status_code in {409, 422}
    assert "on no wheel any more" in str(late.json()["refused"])
    assert Fitting.objects.filter(axle="rear", removed_at=None).count() == 1


def test_one_puts_a_tire_on_again_that_is_off_the_wheel(off, client, wheel_pair, fitted, now):
    off()
    address = reverse("own-tire", args=[wheel_pair.pk])
    assert fitted["rear"].tire.label_code in words(client.get(address))

    client.post(
        address,
        {"tire": fitted["rear"].tire.pk, "fitted_at": f"{now:%Y-%m-%dT%H:%M}", "key": uuid.uuid4()},
    )

    assert Fitting.objects.get(axle="rear", removed_at=None).tire == fitted["rear"].tire
    assert Tire.objects.count() == 2


def test_one_tire_goes_on_not_two_and_not_none(off, client, wheel_pair, fitted, rear_spec, now):
    off()
    address, at = reverse("own-tire", args=[wheel_pair.pk]), f"{now:%Y-%m-%dT%H:%M}"

    none = client.post(address, {"fitted_at": at, "key": uuid.uuid4()})
    both = client.post(
        address, {"tire": fitted["rear"].tire.pk, "spec": rear_spec.pk, "fitted_at": at, "key": uuid.uuid4()}
    )

    assert (none.status_code, both.status_code) == (422, 422)
    assert "No tire is chosen" in words(none)
    assert "Two tires are chosen" in words(both)


def test_nobody_elses_wheels_and_no_bare_wheel(as_, other_rider, client, off, wheel_pair, fitted):
    address = reverse("tire-off", args=[wheel_pair.pk, "rear"])
    assert as_(other_rider.person).get(address).status_code == 404
    assert client.get(reverse("tire-off", args=[wheel_pair.pk, "side"])).status_code == 404
    off()

    assert client.get(address).status_code == 404
