"""The trailer with no signal: wheels taken in, tires fitted and handed out, and all of it there when the signal returns."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.accounts.policy import SERVICE
from fleet.garage.actions import add_bike, add_wheel_pair, register_rider
from fleet.inventory.actions import receive_lot, take_wheels_in
from fleet.inventory.models import Fitting, JobTicket, StockMovement
from tests.pages.browser import check, sign_in
from tests.pages.device import entries_on, ready, see, settled

pytestmark = pytest.mark.browser
ENTRIES = 250


@pytest.fixture
def tablet(device):
    """A tablet of the trailer in somebody's hands, with its copies made."""

    def hand_to(person):
        page = device()
        sign_in(page, person)
        see(page.get_by_role("heading", name="Trailer", exact=True))
        ready(page)
        return page

    return hand_to


def lot_of(tarn, spec, code, now, quantity):
    return receive_lot(
        by=SERVICE,
        at=now,
        vendor=tarn,
        spec=spec,
        code=code,
        date_code="0126",
        quantity=quantity,
        received_at=now - timedelta(days=30),
        place="trailer",
    )


def send_all(page, state, count):
    page.goto(reverse("outbox"))
    page.get_by_role("button", name="Send now").click()
    settled(page, state, count)


def test_wheels_come_in_get_a_tire_and_a_slip_with_no_network_and_arrive_in_order(
    tablet, link, entry, assessed, wheel_pair, fitter
):
    page = tablet(fitter)
    link.set("down")
    page.goto(reverse("trailer"))
    page.get_by_label("number", exact=False).first.fill("27")
    page.get_by_role("button", name="Take wheels in").click()
    see(page.get_by_role("heading", name="Expected riders"))
    see(page.get_by_text("Robin Vale", exact=True))
    check(page, 64)
    page.get_by_role("link", name="Take in Robin Vale").click()
    page.get_by_role("button", name="Take these wheels in").click()

    see(page.get_by_text("Kept on this device, and sent by itself"))
    see(page.get_by_role("heading", name="Robin Vale", level=1))
    check(page, 64)
    page.get_by_role("link", name="Fit a rear tire").click()
    see(page.get_by_text("This page is a copy as of"))
    page.locator("input[name=chosen][value^=lot]").first.check()
    page.locator("input[name=old_reason]").first.check()
    page.locator("input[name=old_destination]").first.check()
    page.locator("[data-store]").click()

    see(page.get_by_text("Kept on this device, and sent by itself"))
    see(page.locator("[data-slip]").get_by_role("heading", name="Rear tire, Robin Vale"))
    assert not JobTicket.objects.exists()
    link.set("up")
    page.reload()

    see(page.get_by_text("Everything was sent."))
    ticket = JobTicket.objects.get()
    assert ticket.wheel_pair == wheel_pair
    assert [entry["state"] for entry in entries_on(page)] == ["sent", "sent"]
    assert Fitting.objects.get(ticket=ticket).axle == "rear"
    page.get_by_role("link", name="Open the ticket").click()
    see(page.get_by_role("heading", name=f"Ticket {ticket.number} · Robin Vale"))


def test_the_last_tire_sold_twice_is_refused_to_the_second_whose_ticket_stays_open(
    tablet, link, tarn, rear_spec, wheel_pair, fitter, stock_manager, now, entry
):
    last = lot_of(tarn, rear_spec, "lot-last", now, 1)
    other = register_rider(by=SERVICE, code="r-wyn", name="Wyn Tarrow", registered_with=tarn)
    bike = add_bike(by=SERVICE, rider=other, code="b-wyn", description="600 sport")
    pairs = [wheel_pair, add_wheel_pair(by=SERVICE, bike=bike, code="w-wyn", name="dry")]
    first, second = [
        take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=pair, opened_on=now.date())
        for pair in pairs
    ]
    one, two = tablet(fitter), tablet(stock_manager)
    link.set("down")
    for page, ticket in ((one, first), (two, second)):
        page.goto(reverse("fit", args=[ticket.pk, "rear"]))
        page.locator(f"input[name=chosen][value='lot:{last.pk}']").check()
        page.locator("[data-store]").click()
        see(page.get_by_text("Kept on this device, and sent by itself"))
    link.set("up")
    send_all(one, "sent", 1)
    send_all(two, "refused", 1)

    see(two.get_by_text("This tire is not there any more: the last of its lot was taken"))
    assert [fitting.ticket for fitting in Fitting.objects.all()] == [first]
    second.refresh_from_db()
    assert second.state == JobTicket.State.WAITING


def test_what_rests_on_a_refused_entry_waits_for_it_and_other_work_goes_on(
    tablet, link, wheel_pair, fitter, entry, fitted
):
    page = tablet(fitter)
    ticket = str(uuid.uuid4())
    person = str(fitter.pk)
    shared = {
        "person": person,
        "name": "Fen",
        "told": [],
        "page": "/trailer/",
        "state": "waiting",
        "madeAt": 0,
    }
    shared |= {"reasons": [], "about": ""}
    wheels = f"/trailer/wheels/{wheel_pair.pk}/"
    wrong = {"wheels": "no such wheels", "wanted": "none", "key": ticket}
    right = {"wheels": "rear", "wanted": "none", "key": str(uuid.uuid4())}
    entries = [
        {"key": ticket, "job": ticket, "part": "", "url": wheels, "words": "in", "fields": list(wrong.items())},
        {
            "key": str(uuid.uuid4()), "job": ticket, "part": "", "url": f"/trailer/tickets/{ticket}/state/",
            "words": "on", "fields": [["seen", "waiting"], ["state", "on_machine"]],
        },
        {"key": right["key"], "job": right["key"], "part": "", "url": wheels, "words": "other", "fields": list(right.items())},
    ]  # fmt: skip
    for one in entries:
        page.evaluate("entry => Entries.add(entry)", shared | one)

    send_all(page, "sent", 1)

    assert {entry["words"]: entry["state"] for entry in entries_on(page)} == {
        "in": "refused",
        "on": "waiting",
        "other": "sent",
    }
    see(page.get_by_text("Waits for the entry before it"))
    assert [str(row.pk) for row in JobTicket.objects.all()] == [right["key"]]


def test_five_hundred_entries_of_two_devices_arrive_once_each_and_in_order(
    tablet, link, tarn, rear_spec, stock_manager, now
):
    lot = lot_of(tarn, rear_spec, "lot-many", now, 2 * ENTRIES)
    tablets = [tablet(stock_manager), tablet(stock_manager)]
    link.set("down")
    keys = [[str(uuid.uuid4()) for _ in range(ENTRIES)] for _ in tablets]
    for page, own in zip(tablets, keys, strict=True):
        page.goto(reverse("outbox"))
        see(page.get_by_text("No network."))
        page.evaluate(
            """async ([person, url, keys]) => {
                const fields = [["done", "sold"], ["place", "trailer"], ["quantity", "1"]];
                for (const key of keys) {
                    await Entries.add({
                        key, person, url, name: "Sal", fields: [...fields, ["key", key]], words: "Sold", told: [],
                        page: url, job: "", part: "", about: "", state: "waiting", madeAt: Date.now(), reasons: [],
                    });
                }
            }""",
            [str(stock_manager.pk), reverse("lot", args=[lot.pk]), own],
        )
    link.set("up")
    for page in tablets:
        page.get_by_role("button", name="Send now").click()
    for page in tablets:
        settled(page, "sent", ENTRIES)

    sold = StockMovement.objects.filter(kind="sold").order_by("recorded_at")
    arrived = [str(key) for key in sold.values_list("pk", flat=True)]
    assert len(arrived) == 2 * ENTRIES
    for own in keys:
        assert [key for key in arrived if key in set(own)] == own
