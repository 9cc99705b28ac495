"""What is written down about stock with no network: kept on the device, sent later, and dated by its button."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.accounts.policy import SERVICE
from fleet.inventory.actions import list_spec, load_stock, move_stock, reserve
from fleet.inventory.models import StockMovement
from fleet.inventory.queries import left_at

LATER = timedelta(minutes=40)


@pytest.fixture
def send(as_, stock_manager):
    """Send what the stock manager's device kept since a moment."""

    def do(address, fields, *, made_at):
        headers = {
            "Outbox": "waiting",
            "Outbox-Person": str(stock_manager.pk),
            "Outbox-Made": made_at.isoformat(),
        }
        return as_(stock_manager).post(address, fields | {"key": str(uuid.uuid4())}, headers=headers)

    return do


@pytest.mark.parametrize("done", ["sold", "load", "written_off"])
def test_a_movement_counts_as_of_its_button(send, rear_lot, done):
    made_at = timezone.now() - LATER
    if done == "load":
        load_stock(by=SERVICE, at=made_at, lot=rear_lot, quantity=-2, loaded_at=made_at - LATER)

    answer = send(
        reverse("lot", args=[rear_lot.pk]),
        {"done": done, "quantity": "1", "place": "trailer", "unit_price": "150", "reason": "cut"},
        made_at=made_at,
    )

    assert answer.json()["stored"] == reverse("lot", args=[rear_lot.pk])
    assert set(rear_lot.movements.filter(moved_at=made_at).values_list("place", flat=True)) >= {"trailer"}


def test_a_count_is_held_to_the_ledger_of_its_moment(send, rear_lot):
    made_at, address = timezone.now() - LATER, reverse("lot", args=[rear_lot.pk])
    there = left_at(rear_lot, "trailer")
    sold_at = made_at + LATER / 2
    move_stock(
        by=SERVICE, at=sold_at, lot=rear_lot, kind="sold", place="trailer", quantity=-1, moved_at=sold_at
    )

    same = send(address, {"done": "counted", "quantity": str(there), "place": "trailer"}, made_at=made_at)
    less = send(
        address,
        {"done": "counted", "quantity": str(there - 1), "place": "trailer", "reason": "one is missing"},
        made_at=made_at,
    )

    assert "nothing to correct" in same.json()["said"][0]
    assert "corrected by -1" in less.json()["said"][0]
    assert left_at(rear_lot, "trailer") == there - 2
    assert StockMovement.objects.get(kind="counted").moved_at == made_at


def test_a_second_sale_of_the_last_tires_is_refused_with_its_reason(send, rear_lot):
    address, made_at = reverse("lot", args=[rear_lot.pk]), timezone.now() - LATER
    sale = {"done": "sold", "quantity": str(left_at(rear_lot, "trailer")), "place": "trailer"}

    first, second = (send(address, sale, made_at=made_at) for _ in range(2))

    assert first.json()["stored"]
    assert second.status_code == 422
    assert second.json()["refused"][0]["message"]
    assert left_at(rear_lot, "trailer") == 0


def test_a_step_that_is_refused_says_why_to_the_device(as_, send, rider, tarn, rear_spec, rear_lot, now):
    list_spec(by=SERVICE, vendor=tarn, spec=rear_spec, price=150)
    kept = reserve(
        by=SERVICE,
        at=now,
        rider=rider,
        vendor=tarn,
        spec=rear_spec,
        quantity=1,
        wanted_on=now.date() + timedelta(days=1),
    )
    load_stock(by=SERVICE, at=now, lot=rear_lot, quantity=-left_at(rear_lot, "trailer"), loaded_at=now)

    answer = send(reverse("step-reservation", args=[kept.pk]), {"step": "set-aside"}, made_at=now)

    assert answer.status_code == 422
    assert "load more first" in answer.json()["refused"][0]["message"]


def test_the_forms_of_stock_are_kept_for_who_manages_it(as_, stock_manager, fitter, rear_lot):
    def kept(person):
        return as_(person).get(reverse("keep")).json()["addresses"]

    assert {reverse("lot", args=[rear_lot.pk]), reverse("receive"), reverse("reservations")} <= {
        *kept(stock_manager)
    }
    assert reverse("reservations") in kept(fitter)
    assert not {reverse("lot", args=[rear_lot.pk]), reverse("receive")} & {*kept(fitter)}
