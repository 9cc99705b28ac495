"""Recalls on the pages: entered, found, told, read off a sidewall, ended; and seen by whoever stands at the tire."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.accounts.actions import add_organisation
from fleet.accounts.policy import SERVICE
from fleet.events.actions import add_day, add_group, enter, plan_event
from fleet.garage.actions import register_rider, share
from fleet.inventory.actions import add_own_tire, enter_recall, load_stock, take_wheels_in
from fleet.inventory.models import RecallContact, RecallNotice, SidewallReading
from fleet.inventory.telling import tell_recalled
from fleet.notices.models import Notice


def words_of(answer):
    return " ".join(answer.content.decode().split())


@pytest.fixture
def recall(front_spec, now):
    def do(**changes):
        given = {
            "by": SERVICE,
            "at": now,
            "reference": "W-14",
            "issued_by": "Mirrin",
            "published_on": now.date(),
            "spec": front_spec,
            "first_code": "0626",
            "last_code": "1026",
            "what_to_do": "Bring it to your vendor: it is exchanged.",
        }
        return enter_recall(**(given | changes))

    return do


@pytest.fixture
def walk_in(tarn, front_spec, now):
    """A customer without an account, with a front whose number nobody knows."""
    rider = register_rider(
        by=SERVICE, code="r-009", name="Wren Fallow", registered_with=tarn, contact="call before nine"
    )
    add_own_tire(by=SERVICE, at=now, rider=rider, spec=front_spec, label_code="UNKNOWN1")
    return rider


@pytest.fixture
def sent(tarn, front_spec, now):
    """What the form of a notice sends."""
    return {
        "entered_for": str(tarn.pk),
        "reference": "W-14",
        "issued_by": "Mirrin",
        "published_on": f"{now:%Y-%m-%d}",
        "which": f"spec/{front_spec.pk}/",
        "first_code": "0626",
        "last_code": "1026",
        "what_to_do": "Bring it to your vendor.",
        "key": str(uuid.uuid4()),
    }


def test_a_stock_manager_enters_a_notice_once_and_is_led_to_what_it_touches(as_, stock_manager, fitted, sent):
    browser = as_(stock_manager)
    assert "Put the notice in force" in words_of(browser.get("/recalls/enter/"))

    for _ in range(2):
        answer = browser.post("/recalls/enter/", sent)

    notice = RecallNotice.objects.get()
    assert answer.url == reverse("recall", args=[notice.pk])
    shown = words_of(browser.get(answer.url))
    assert "<dt>In stock</dt><dd>3</dd>" in shown
    assert "<dt>On wheels</dt><dd>1</dd>" in shown
    assert "Robin Vale" in shown
    assert "lot-f" in shown


def test_a_whole_line_or_one_axle_of_it_can_be_named(as_, stock_manager, line, sent):
    as_(stock_manager).post("/recalls/enter/", sent | {"which": f"line/{line.pk}/rear"})

    notice = RecallNotice.objects.get()
    assert (notice.spec, notice.line, notice.axle) == (None, line, "rear")


@pytest.mark.parametrize(
    ("name", "value", "sentence"),
    [
        ("first_code", "9926", "Week 99 does not exist"),
        ("last_code", "0526", "give the first week first"),
        ("which", "", "Which tires is missing"),
        ("plant", "O7", "without G, I, O, Q, S and Z"),
        ("published_on", "tomorrow", "This is no date"),
        ("what_to_do", "", "What riders should do is missing"),
    ],
)
def test_what_is_wrong_is_said_at_its_field_and_what_was_typed_stays(
    as_, stock_manager, sent, name, value, sentence
):
    answer = as_(stock_manager).post("/recalls/enter/", sent | {name: value})

    assert answer.status_code == 422
    assert words_of(answer).count(sentence) == 2
    assert 'value="Bring it to your vendor."' in words_of(answer) or name == "what_to_do"
    assert not RecallNotice.objects.exists()


def test_fitters_and_crew_read_and_do_not_enter(as_, recall, fitter, crew, stock_manager, tarn):
    notice = recall(by=stock_manager, entered_for=tarn)

    page = as_(fitter).get(f"/recalls/{notice.pk}/")
    assert page.status_code == 200
    assert "End this notice" not in words_of(page)
    assert "Enter a notice" not in words_of(as_(fitter).get("/recalls/"))
    assert as_(fitter).get("/recalls/enter/").status_code == 403
    assert as_(fitter).post(f"/recalls/{notice.pk}/end/", {"how": "lift", "reason": "no"}).status_code == 403
    assert as_(crew).get(f"/recalls/{notice.pk}/").status_code == 404


def test_strangers_and_riders_see_nothing_of_a_vendors_notice(
    as_, recall, stranger, rider_person, stock_manager, tarn, fitted
):
    notice = recall(by=stock_manager, entered_for=tarn)
    tire, rider = fitted["front"].tire, fitted["front"].tire.owner

    for address in (
        f"/recalls/{notice.pk}/end/",
        f"/recalls/{notice.pk}/told/{rider.pk}/",
        f"/recalls/{notice.pk}/tires/{tire.pk}/sidewall/",
    ):
        assert as_(stranger).post(address, {"how": "lift", "reason": "no"}).status_code == 404
        assert as_(rider_person).post(address, {"how": "lift", "reason": "no"}).status_code == 403
    assert as_(stranger).get(f"/recalls/{notice.pk}/").status_code == 404
    assert "W-14" not in words_of(as_(stranger).get("/recalls/"))


def test_who_tells_a_rider_is_noted_with_the_way_and_once(as_, recall, fitter, walk_in):
    notice = recall()
    browser = as_(fitter)
    page = words_of(browser.get(f"/recalls/{notice.pk}/"))
    assert "Wren Fallow, call before nine" in page
    assert "Has no account: tell them yourself." in page
    given = {"way": "phone", "key": str(uuid.uuid4())}

    for _ in range(2):
        browser.post(f"/recalls/{notice.pk}/told/{walk_in.pk}/", given)

    contact = RecallContact.objects.get()
    assert (contact.rider, contact.recorded_by) == (walk_in, fitter)
    assert "By phone" in words_of(browser.get(f"/recalls/{notice.pk}/"))


def test_whom_one_vendor_told_is_nothing_for_another_that_serves_the_same_rider(
    as_, recall, fitter, stranger, breckside, rider, rider_person, fitted, now
):
    share(by=rider_person, rider=rider, organisation=breckside, scope="stints", at=now)
    notice = recall()
    as_(fitter).post(f"/recalls/{notice.pk}/told/{rider.pk}/", {"way": "phone", "key": str(uuid.uuid4())})

    own, theirs = (words_of(as_(one).get(f"/recalls/{notice.pk}/")) for one in (fitter, stranger))

    assert "Robin Vale" in own
    assert "Robin Vale" in theirs
    assert ", Fen Aldous." in own
    assert "Fen Aldous" not in theirs


def test_an_organiser_does_not_learn_who_rides_elsewhere_today(
    as_, recall, crew, fitter, event, layout, bike, group, day, fitted
):
    past = add_day(by=SERVICE, event=event, date=day.date - timedelta(days=10), layout=layout)
    enter(by=SERVICE, day=past, bike=bike, group=group, number="31")
    other = add_organisation(by=SERVICE, code="hill", name="Hill Days", is_vendor=False, is_organiser=True)
    theirs = plan_event(by=SERVICE, organiser=other, code="hill", name="Hill June")
    fast = add_group(by=SERVICE, event=theirs, name="Quick")
    today = add_day(by=SERVICE, event=theirs, date=day.date, layout=layout)
    enter(by=SERVICE, day=today, bike=bike, group=fast, number="88")
    notice = recall()

    organiser, vendor = (words_of(as_(one).get(f"/recalls/{notice.pk}/")) for one in (crew, fitter))

    assert "Robin Vale" in organiser
    assert "rides today" not in organiser
    assert "rides today, number 88, Quick" in vendor


def test_a_number_read_off_the_sidewall_lets_a_tire_go_or_stops_it_for_certain(as_, recall, fitter, walk_in):
    notice = recall()
    tire = walk_in.tires.get()
    browser, address = as_(fitter), f"/recalls/{notice.pk}/tires/{tire.pk}/sidewall/"
    assert "May be recalled: read its sidewall" in words_of(browser.get(f"/recalls/{notice.pk}/"))

    wrong = browser.post(address, {"identification": "9926", "key": str(uuid.uuid4())})
    assert wrong.status_code == 422
    assert "Week 99 does not exist" in words_of(wrong)
    assert 'value="9926"' in words_of(wrong)
    answer = browser.post(address, {"identification": "1226", "key": str(uuid.uuid4())}, follow=True)

    assert "this recall does not touch it" in words_of(answer)
    assert SidewallReading.objects.get().recorded_by == fitter
    assert "Wren Fallow" not in words_of(browser.get(f"/recalls/{notice.pk}/"))


def test_a_notice_is_ended_with_a_reason_by_who_entered_it(as_, recall, stock_manager, tarn):
    notice = recall(by=stock_manager, entered_for=tarn)
    browser = as_(stock_manager)

    assert browser.post(f"/recalls/{notice.pk}/end/", {"how": "lift", "reason": ""}).status_code == 422
    browser.post(f"/recalls/{notice.pk}/end/", {"how": "lift", "reason": "Mirrin took it back."})

    notice.refresh_from_db()
    assert notice.lift_reason == "Mirrin took it back."
    assert "lifted" in words_of(browser.get("/recalls/"))


def test_the_rider_sees_it_in_the_garage_at_once_and_says_when_it_was_read(
    as_, recall, rider_person, assessed, now
):
    recall()
    browser = as_(rider_person)
    tell_recalled(at=now)
    page = words_of(browser.get("/garage/"))
    assert "Recall W-14 by Mirrin." in page
    assert "This tire is withdrawn: do not ride on it. Bring it to your vendor: it is exchanged." in page
    assert "No start pressure: this tire should not go out." in page

    browser.post(f"/garage/tires/{assessed['front'].tire_id}/recall-seen/")

    assert Notice.objects.get(topic="recall").read_at is not None
    page = words_of(browser.get("/garage/"))
    assert "I have read this" not in page
    assert "Recall W-14 by Mirrin." in page


def test_the_gate_the_day_the_ticket_and_the_tire_say_it_too(
    as_, recall, inspector, fitter, rider_person, assessed, entry, day, tarn, wheel_pair, now
):
    recall()
    ticket = take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())
    pages = (
        (inspector, f"/desk/days/{day.pk}/gate/?number=27"),
        (fitter, f"/trailer/tickets/{ticket.pk}/"),
        (rider_person, f"/garage/tires/{assessed['front'].tire_id}/"),
    )

    for person, address in pages:
        assert "Recall W-14 by Mirrin." in words_of(as_(person).get(address)), address
    assert "recall W-14" in words_of(as_(inspector).get(f"/desk/days/{day.pk}/"))


def test_the_fitting_page_marks_recalled_lots_and_refuses_them_by_name(
    as_, recall, fitter, tarn, wheel_pair, front_lot, now
):
    recall()
    ticket = take_wheels_in(by=SERVICE, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date())
    address = f"/trailer/tickets/{ticket.pk}/fit/front/"
    assert "recalled, not to be fitted" in words_of(as_(fitter).get(address))

    answer = as_(fitter).post(
        address,
        {"chosen": f"lot:{front_lot.pk}", "fitted_at": f"{now:%Y-%m-%d %H:%M}", "key": str(uuid.uuid4())},
    )

    assert answer.status_code == 422
    assert "Recall W-14 by Mirrin" in words_of(answer)
    assert not wheel_pair.fittings.exists()


def test_loading_a_recalled_lot_is_warned_of_and_selling_refused(as_, recall, stock_manager, front_lot, now):
    load_stock(by=SERVICE, at=now, lot=front_lot, quantity=-4, loaded_at=now - timedelta(hours=1))
    recall()
    browser, address = as_(stock_manager), f"/trailer/stock/{front_lot.pk}/"
    assert "leave it off the trailer" in words_of(browser.get(address))

    answer = browser.post(address, {"done": "load", "quantity": "2", "key": str(uuid.uuid4())}, follow=True)
    assert "Loaded all the same" in words_of(answer)

    answer = browser.post(
        address, {"done": "sold", "quantity": "1", "place": "trailer", "key": str(uuid.uuid4())}
    )
    assert answer.status_code == 422
    assert "Nothing of lot lot-f is sold" in words_of(answer)
