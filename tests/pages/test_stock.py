"""Stock at the trailer: received, moved, counted, and every line of the ledger in sight."""

import re
import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.inventory.actions import receive_lot
from fleet.inventory.models import Lot, StockMovement
from fleet.inventory.queries import left_at


def moved(client, lot, done, quantity, **more):
    form = {"done": done, "quantity": quantity, "place": "trailer", "reason": "", "key": uuid.uuid4()}
    return client.post(reverse("lot", args=[lot.pk]), form | more, follow=True)


def delivery(tarn, spec, now, **more):
    form = {
        "vendor": tarn.pk,
        "spec": spec.pk,
        "code": "late-1",
        "date_code": "1026",
        "quantity": "6",
        "unit_cost": "151.20",
        "place": "store",
        "received_at": f"{now:%Y-%m-%dT%H:%M}",
        "key": uuid.uuid4(),
    }
    return form | more


@pytest.fixture
def manager(as_, stock_manager):
    return as_(stock_manager)


def test_a_delivery_is_received_and_stands_in_the_store(manager, tarn, rear_lot, now):
    answer = manager.post(reverse("receive"), delivery(tarn, rear_lot.spec, now), follow=True)

    assert "Lot late-1 is in stock, 6 in all." in answer.content.decode()
    lot = Lot.objects.get(code="late-1")
    assert (left_at(lot, "store"), left_at(lot, "trailer")) == (6, 0)


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"date_code": "5426"}, "week"),
        ({"quantity": "six"}, "This is no whole number: give one such as 4."),
        ({"quantity": "0"}, "Give 1 or more."),
        ({"code": ""}, "Lot is missing: fill it in."),
        ({"code": "lot r"}, "Letters, digits, hyphens and underscores only."),
        ({"code": "lot-r"}, "already"),
        ({"received_at": "2031-01-01T10:00"}, "has not come yet"),
    ],
)
def test_a_delivery_that_cannot_be_right_is_refused_and_kept_as_typed(
    manager, tarn, rear_lot, now, typed, sentence
):
    lots = Lot.objects.count()

    answer = manager.post(reverse("receive"), delivery(tarn, rear_lot.spec, now, **typed))

    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert 'value="151.20"' in page
    assert Lot.objects.count() == lots


def test_tires_go_onto_the_trailer_and_back(manager, rear_lot):
    moved(manager, rear_lot, "unload", 3)
    moved(manager, rear_lot, "load", 1)

    assert (left_at(rear_lot, "store"), left_at(rear_lot, "trailer")) == (2, 2)


@pytest.mark.parametrize(("done", "left"), [("sold", 3), ("written_off", 3), ("returned", 5)])
def test_what_leaves_or_comes_back_is_a_line_of_the_ledger(manager, rear_lot, done, left):
    moved(manager, rear_lot, done, 1, reason="torn bead")

    assert left_at(rear_lot, "trailer") == left
    assert StockMovement.objects.filter(lot=rear_lot, kind=done).get().reason == "torn bead"


def test_a_count_writes_the_difference_and_says_so(manager, rear_lot):
    said = moved(manager, rear_lot, "counted", 3, reason="one gone").content.decode()

    assert "3 counted: the ledger is corrected by -1." in said
    assert left_at(rear_lot, "trailer") == 3


def test_a_count_that_agrees_writes_nothing(manager, rear_lot):
    said = moved(manager, rear_lot, "counted", 4).content.decode()

    assert "as the ledger says" in said
    assert not StockMovement.objects.filter(lot=rear_lot, kind="counted").exists()


def test_a_count_sent_twice_corrects_once(manager, rear_lot):
    key = uuid.uuid4()
    for _ in range(2):
        moved(manager, rear_lot, "counted", 1, reason="three gone", key=key)

    assert left_at(rear_lot, "trailer") == 1


@pytest.mark.parametrize(
    ("done", "quantity", "sentence"),
    [
        ("sold", 5, "not"),
        ("sold", 0, "No tire moves this way: give 1 or more."),
        ("written_off", 1, "give a reason"),
        ("counted", 1, "The ledger says 4 and you counted 1: say why"),
        ("sold", "many", "This is no whole number"),
        ("fitted", 1, "Select a valid choice"),
    ],
)
def test_a_move_that_cannot_be_is_refused_and_nothing_is_written(manager, rear_lot, done, quantity, sentence):
    lines = StockMovement.objects.count()

    answer = moved(manager, rear_lot, done, quantity)

    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert StockMovement.objects.count() == lines


def test_a_wrong_line_is_voided_with_its_reason_and_stays_readable(manager, rear_lot):
    moved(manager, rear_lot, "sold", 1)
    line = StockMovement.objects.get(lot=rear_lot, kind="sold")

    void = reverse("void-line", args=[rear_lot.pk, line.pk])
    without = manager.post(void, {"reason": ""}, follow=True).content.decode()
    page = manager.post(void, {"reason": "other lot"}, follow=True).content.decode()

    assert "say in a few words what was wrong" in without
    assert "other lot" in page
    assert left_at(rear_lot, "trailer") == 4


def test_a_receipt_whose_tires_are_gone_is_not_voided(manager, fitted, rear_lot):
    receipt = rear_lot.movements.get(kind="received")

    page = manager.post(
        reverse("void-line", args=[rear_lot.pk, receipt.pk]), {"reason": "never came"}, follow=True
    )

    assert "not" in re.search(r'role="status" data-said>(.*?)</div', page.content.decode(), re.DOTALL)[1]
    assert left_at(rear_lot, "trailer") == 3


def test_the_line_of_a_fitting_is_undone_with_the_fitting_only(manager, fitted, rear_lot):
    line = rear_lot.movements.get(kind="fitted")

    page = manager.get(reverse("lot", args=[rear_lot.pk])).content.decode()
    answer = manager.post(reverse("void-line", args=[rear_lot.pk, line.pk]), {"reason": "wrong"}, follow=True)

    assert reverse("void-line", args=[rear_lot.pk, line.pk]) not in page
    assert "void the fitting, and the tire is back in its lot" in answer.content.decode()


def test_a_fitter_sees_the_stock_and_moves_none(as_, fitter, rear_lot):
    client = as_(fitter)

    page = client.get(reverse("stock")).content.decode()
    lot = client.get(reverse("lot", args=[rear_lot.pk])).content.decode()

    assert "lot-r" in page
    assert "Receive tires" not in page
    assert "Move tires" not in lot
    assert moved(client, rear_lot, "sold", 1).status_code == 403
    assert client.get(reverse("receive")).status_code == 403


def test_what_a_tire_cost_is_for_the_manager_alone(as_, fitter, manager, tarn, rear_lot, now):
    manager.post(reverse("receive"), delivery(tarn, rear_lot.spec, now))
    address = reverse("lot", args=[Lot.objects.get(code="late-1").pk])

    assert "151.20" in manager.get(address).content.decode()
    assert "151.20" not in as_(fitter).get(address).content.decode()


def test_the_stock_of_another_vendor_is_not_there(as_, stranger, stock_manager, rear_lot, breckside, now):
    theirs = receive_lot(
        by=SERVICE,
        at=now,
        vendor=breckside,
        spec=rear_lot.spec,
        code="theirs",
        date_code="0926",
        quantity=2,
        received_at=now,
    )

    assert as_(stranger).get(reverse("lot", args=[rear_lot.pk])).status_code == 404
    assert "theirs" not in as_(stock_manager).get(reverse("stock")).content.decode()
    assert moved(as_(stock_manager), theirs, "sold", 1).status_code == 404


def test_empty_lots_are_out_of_the_way(manager, rear_lot):
    moved(manager, rear_lot, "sold", 4)

    assert "lot-r" not in manager.get(reverse("stock")).content.decode()
    assert "lot-r" in manager.get(reverse("stock") + "?all").content.decode()


def test_more_lots_take_no_more_queries(manager, tarn, rear_lot, now):
    manager.get(reverse("stock"))
    with CaptureQueriesContext(connection) as few:
        manager.get(reverse("stock"))
    for number in range(8):
        manager.post(reverse("receive"), delivery(tarn, rear_lot.spec, now, code=f"more-{number}"))

    with CaptureQueriesContext(connection) as many:
        manager.get(reverse("stock"))

    assert len(many) == len(few)
