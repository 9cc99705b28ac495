"""Fitting at the trailer: what can be known is filled in, and what speaks against a tire is read before it goes on."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.accounts.models import Change
from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import add_line, add_spec
from fleet.inventory.actions import (
    add_own_tire,
    list_spec,
    receive_lot,
    replace_tire,
    reserve,
    take_wheels_in,
    wish_for_wheel,
)
from fleet.inventory.models import Fitting, Place, Removal
from fleet.inventory.queries import fitted_now, left_at
from fleet.life.models import Assessment


@pytest.fixture
def ticket(tarn, wheel_pair, now):
    return take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())


@pytest.fixture
def address(ticket):
    return reverse("fit", args=[ticket.pk, "rear"])


def delivered(vendor, spec, code, now, date_code="0826"):
    return receive_lot(
        by=SERVICE, at=now, vendor=vendor, spec=spec, code=code, date_code=date_code, quantity=4,
        received_at=now - timedelta(days=30), place="trailer",
    )  # fmt: skip


@pytest.fixture
def alder_lot(tarn, now):
    """A lot of another line than Robin's front tire, in a size too narrow for the rim."""
    line = add_line(by=SERVICE, maker="Corvane", name="Alder TD", category="track_day", carcass="medium")
    spec = add_spec(
        by=SERVICE, line=line, code="alder-td-r160", axle="rear", size="160/60 ZR17 M/C (69W)", new_depth_mm=6.0,
        wear_limit_mm=1.0,
    )  # fmt: skip
    return delivered(tarn, spec, "lot-a", now)


def filled(lot, now, **changes):
    form = {
        "chosen": f"lot:{lot.pk}", "identification": "", "fitted_at": f"{now:%Y-%m-%dT%H:%M}",
        "key": str(uuid.uuid4()), "old_reason": "worn", "old_destination": "scrapped",
    }  # fmt: skip
    return form | changes


def test_the_same_again_from_the_oldest_lot_is_chosen_beforehand(
    as_, fitter, tarn, address, fitted, rear_lot, rear_spec, alder_lot, now
):
    older = delivered(tarn, rear_spec, "lot-old", now, date_code="0226")

    form = as_(fitter).get(address).context["form"]

    assert form["chosen"].value() == f"lot:{older.pk}"
    assert [choice.value for choice in form.choices] == [
        f"lot:{older.pk}",
        f"lot:{rear_lot.pk}",
        f"lot:{alder_lot.pk}",
        "nothing",
    ]


def test_a_recalled_lot_is_offered_last_and_never_chosen_beforehand(
    as_, fitter, address, fitted, rear_lot, rear_spec, recall
):
    recall(spec=rear_spec)

    answer = as_(fitter).get(address)

    assert not answer.context["form"]["chosen"].value()
    assert "recalled" in answer.content.decode()


def test_a_worn_tire_is_expected_to_be_scrapped_and_another_to_go_back(as_, fitter, address, assessed):
    before = as_(fitter).get(address).context["form"]
    Assessment.objects.update(state="last day")

    after = as_(fitter).get(address).context["form"]

    assert (before["old_reason"].value(), before["old_destination"].value()) == ("swap", "handed_back")
    assert (after["old_reason"].value(), after["old_destination"].value()) == ("worn", "scrapped")


def test_what_is_wished_is_chosen_beforehand_and_goes_where_the_ticket_says(
    as_, fitter, tarn, address, ticket, fitted, rear_lot, alder_lot, now
):
    wish_for_wheel(
        by=fitter,
        at=now,
        ticket=ticket,
        axle="rear",
        spec=alder_lot.spec,
        destination=Removal.Destination.KEPT,
    )

    form = as_(fitter).get(address).context["form"]

    assert form["chosen"].value() == f"lot:{alder_lot.pk}"
    assert form["old_destination"].value() == "kept"
    assert "as wished, lot lot-a" in form.choices[0].more


def test_an_own_tire_that_is_wished_comes_before_stock(
    as_, fitter, address, ticket, rider, rear_spec, rear_lot, now
):
    own = add_own_tire(by=SERVICE, at=now, rider=rider, spec=rear_spec, identification="0826")
    wish_for_wheel(by=fitter, at=now, ticket=ticket, axle="rear", own_tire=own)

    assert as_(fitter).get(address).context["form"]["chosen"].value() == f"tire:{own.pk}"


def test_what_the_rider_reserved_comes_first_and_what_is_kept_for_somebody_else_is_refused_in_words(
    as_, fitter, tarn, address, rider, other_rider, fitted, rear_lot, alder_lot, now
):
    day = now.date() + timedelta(days=1)
    for lot in (rear_lot, alder_lot):
        list_spec(by=SERVICE, vendor=tarn, spec=lot.spec, price=150)
    reserve(by=SERVICE, at=now, rider=rider, vendor=tarn, spec=alder_lot.spec, quantity=1, wanted_on=day)
    reserve(by=SERVICE, at=now, rider=other_rider, vendor=tarn, spec=rear_lot.spec, quantity=3, wanted_on=day)
    client = as_(fitter)

    form = client.get(address).context["form"]
    answer = client.post(address, filled(rear_lot, now))

    assert form["chosen"].value() == f"lot:{alder_lot.pk}"
    assert form.choices[0].more.startswith("reserved for this rider, lot lot-a")
    assert answer.status_code == 422
    assert "kept for riders who reserved" in answer.content.decode()
    assert not Removal.objects.exists()


def test_the_line_at_the_other_end_is_what_is_wished_there_until_that_work_is_done(
    as_, fitter, address, ticket, wheel_pair, fitted, rear_lot, alder_lot, now
):
    front = add_spec(
        by=SERVICE, line=alder_lot.spec.line, code="alder-td-f", axle="front", size="120/70 ZR17 M/C (58W)",
        new_depth_mm=5.0, wear_limit_mm=1.0,
    )  # fmt: skip
    wish_for_wheel(by=fitter, at=now, ticket=ticket, axle="front", spec=front)

    wished = as_(fitter).get(address).context["form"].choices
    replace_tire(
        by=fitter, at=now, wheel_pair=wheel_pair, axle="front", fitted_at=now, reason="swap", destination="kept",
        lot=fitted["front"].tire.lot, ticket=ticket,
    )  # fmt: skip
    done = as_(fitter).get(address).context["form"].choices

    lines = [[(c.lot.code, [a.code for a in c.against]) for c in found if c.lot] for found in (wished, done)]
    assert lines == [
        [("lot-r", ["line"]), ("lot-a", ["rim", "size", "load"])],
        [("lot-r", []), ("lot-a", ["rim", "size", "load", "line"])],
    ]


def test_what_speaks_against_a_tire_is_said_in_its_line_before_it_is_chosen(
    as_, fitter, address, fitted, alder_lot
):
    page = as_(fitter).get(address).content.decode()

    assert "unusual on a 6 inch rim, another size than on it now" in page
    assert "not the line of the front tire" in page


def test_nothing_is_stored_before_somebody_read_what_speaks_against_it(
    as_, fitter, address, fitted, alder_lot, now
):
    answer = as_(fitter).post(address, filled(alder_lot, now, identification="0826"))

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "unusual size on a 6 inch rim" in page
    assert "Fit it all the same" in page
    assert 'value="0826"' in page
    assert not Removal.objects.exists()
    assert left_at(alder_lot, Place.TRAILER) == 4


def test_confirmed_it_is_fitted_once_and_the_trail_keeps_what_was_read(
    as_, fitter, address, ticket, fitted, alder_lot, now
):
    client, form = as_(fitter), filled(alder_lot, now)
    asked = client.post(address, form).context["asked"]

    for _ in range(2):
        client.post(address, form | {"confirmed": asked.confirmation})

    new = fitted_now(ticket.wheel_pair).get(axle="rear")
    assert new.pk == uuid.UUID(form["key"])
    line = Change.objects.get(row=new.pk)
    assert (line.by, line.what, line.rider) == (fitter, "acknowledged", ticket.wheel_pair.bike.rider_id)
    assert "unusual size on a 6 inch rim" in line.after["despite"]
    assert "lines are made and tested as pairs" in line.after["despite"]
    assert Removal.objects.count() == 1


def test_what_was_confirmed_of_one_tire_does_not_confirm_another(
    as_, fitter, address, fitted, alder_lot, now
):
    form = filled(alder_lot, now)
    codes = as_(fitter).post(address, form).context["asked"].confirmation.partition(" ")[2]

    answer = as_(fitter).post(address, form | {"confirmed": f"lot:{uuid.uuid4()} {codes}"})

    assert answer.status_code == 422
    assert not Removal.objects.exists()


def test_what_was_not_known_when_it_was_confirmed_is_asked_again(
    as_, fitter, address, fitted, alder_lot, now
):
    form = filled(alder_lot, now)

    answer = as_(fitter).post(address, form | {"confirmed": f"lot:{alder_lot.pk} rim,size"})

    assert answer.status_code == 422
    assert "not the line of the front tire" in answer.content.decode()
    assert not Removal.objects.exists()


def test_a_tire_with_nothing_against_it_needs_no_confirmation_and_leaves_no_line(
    as_, fitter, address, fitted, rear_lot, now
):
    answer = as_(fitter).post(address, filled(rear_lot, now))

    assert answer.status_code == 302
    assert not Change.objects.filter(noun="fitting").exists()


def test_an_own_tire_of_unknown_age_is_fitted_after_its_age_was_asked_for(
    as_, fitter, address, rider, rear_spec, front_lot, now
):
    own = add_own_tire(by=SERVICE, at=now, rider=rider, spec=rear_spec)
    form = filled(front_lot, now, chosen=f"tire:{own.pk}")
    client = as_(fitter)

    first = client.post(address, form)
    second = client.post(address, form | {"confirmed": first.context["asked"].confirmation})

    assert "read the date code on the sidewall" in first.content.decode()
    assert second.status_code == 302
    assert Fitting.objects.get().tire == own


def test_the_form_of_wheels_sends_to_their_open_ticket(as_, fitter, ticket, wheel_pair, fitted, address):
    page = as_(fitter).get(reverse("fit-wheels", args=[wheel_pair.pk, "rear"])).content.decode()

    assert f'action="{address}"' in page
    assert "data-outbox" in page
    assert 'name="key"' in page


def test_the_form_of_wheels_sends_to_the_ticket_a_device_has_still_to_send(
    as_, fitter, wheel_pair, rear_lot, django_assert_num_queries
):
    waiting = uuid.uuid4()
    at = reverse("fit-wheels", args=[wheel_pair.pk, "rear"])

    named = as_(fitter).get(at, {"ticket": waiting}).content.decode()
    unnamed = as_(fitter).get(at, {"ticket": "1"}).content.decode()

    assert f'action="{reverse("fit", args=[waiting, "rear"])}"' in named
    assert "take them in first" in unnamed


def test_wheels_of_another_vendors_rider_have_no_form(as_, stranger, wheel_pair):
    answer = as_(stranger).get(reverse("fit-wheels", args=[wheel_pair.pk, "rear"]))

    assert answer.status_code == 404
    assert "Robin" not in answer.content.decode()


def test_an_axle_no_bike_has_is_not_there(as_, fitter, wheel_pair):
    assert as_(fitter).get(f"/trailer/wheels/{wheel_pair.pk}/fit/middle/").status_code == 404
