"""The pages of recalls as a phone shows them: narrow, open to everybody, with controls a gloved hand hits."""

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from fleet.accounts.policy import SERVICE
from fleet.garage.actions import register_rider
from fleet.inventory.actions import add_own_tire, enter_recall
from tests.pages.browser import check, sign_in

pytestmark = pytest.mark.browser


@pytest.fixture
def notice(stock_manager, tarn, front_spec, assessed, entry, now):
    """Tarn's notice on the front on Robin's wheel, and on one of a walk-in whose number nobody knows."""
    walk_in = register_rider(by=SERVICE, code="r-009", name="Wren Fallow", registered_with=tarn)
    add_own_tire(by=SERVICE, at=now, rider=walk_in, spec=front_spec)
    return enter_recall(
        by=stock_manager,
        at=now,
        entered_for=tarn,
        reference="W-14",
        issued_by="Mirrin",
        published_on=now.date(),
        spec=front_spec,
        first_code="0626",
        last_code="1026",
        plant="1M3",
        what_to_do="Bring it to your vendor: it is exchanged.",
    )


def test_recalls_fit_a_phone_and_a_hand_and_axe_finds_nothing(page, notice, stock_manager):
    sign_in(page, stock_manager)

    for address in (reverse("recalls"), reverse("enter-recall"), reverse("recall", args=[notice.pk])):
        page.goto(address)
        for closed in page.locator("main summary").all():
            closed.click()
        check(page, 64)


def test_a_rider_reads_of_a_recall_on_a_phone(page, notice, rider_person, assessed):
    sign_in(page, rider_person)

    for address in (reverse("garage"), reverse("tire", args=[assessed["front"].tire_id])):
        page.goto(address)
        expect(page.get_by_text("Recall W-14 by Mirrin.").first).to_be_visible()
        check(page, 48)
