"""The day sheet and the prices as the vendor's people see them."""

import csv
import io
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from fleet.inventory.actions import fit_tire, list_spec
from fleet.inventory.models import Listing


@pytest.fixture
def sold_today(fitter, stock_manager, tarn, wheel_pair, rear_lot):
    list_spec(by=stock_manager, vendor=tarn, spec=rear_lot.spec, price=Decimal("189.00"), low_at=3)
    at = timezone.now()
    return fit_tire(by=fitter, at=at, wheel_pair=wheel_pair, axle="rear", fitted_at=at, lot=rear_lot)


@pytest.fixture
def prices(as_, stock_manager, rear_lot):
    client = as_(stock_manager)

    def sent(price, low):
        typed = {f"price-{rear_lot.spec.pk}": price, f"low-{rear_lot.spec.pk}": low}
        return client.post(reverse("prices"), typed, follow=True)

    return sent


def text_of(pdf):
    return " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)


def test_page_csv_and_pdf_say_the_same(as_, fitter, sold_today):
    client = as_(fitter)

    page = client.get(reverse("day-sheet")).content.decode()
    rows = list(csv.DictReader(io.StringIO(client.get(reverse("day-sheet-csv")).content.decode())))
    pdf = text_of(client.get(reverse("day-sheet-pdf")).content)

    label = sold_today.tire.label_code
    assert [(row["what"], row["label"], row["amount"], row["by"]) for row in rows] == [
        ("Fitted from stock", label, "189.00", fitter.name)
    ]
    for told in ("Fitted from stock", label, "189.00", "Robin Vale"):
        assert told in page
        assert told in pdf


def test_a_name_that_a_spreadsheet_would_run_is_made_safe(as_, fitter, sold_today, rider):
    rider.name = "=HYPERLINK(1)"
    rider.save()

    [row] = csv.DictReader(io.StringIO(as_(fitter).get(reverse("day-sheet-csv")).content.decode()))

    assert row["rider"] == "'=HYPERLINK(1)"


def test_a_day_without_work_says_so(as_, fitter, tarn):
    assert "Nothing was fitted" in as_(fitter).get(reverse("day-sheet") + "?date=2026-01-05").content.decode()


def test_no_date_is_refused_with_what_would_be_right(as_, fitter):
    answer = as_(fitter).get(reverse("day-sheet") + "?date=yesterday")

    assert answer.status_code == 422
    assert "give one such as 2026-06-12" in answer.content.decode()


@pytest.mark.parametrize("on", ["0001-01-01", "9999-12-31"])
@pytest.mark.parametrize("form", ["day-sheet", "day-sheet-csv", "day-sheet-pdf"])
def test_a_day_no_calendar_reaches_is_refused(as_, fitter, form, on):
    answer = as_(fitter).get(reverse(form) + f"?date={on}")

    assert answer.status_code == 422
    assert "give a date from 1980 to now" in answer.content.decode()


def test_strangers_see_no_days_of_others(as_, stranger, director, sold_today):
    assert "189.00" not in as_(stranger).get(reverse("day-sheet") + "?vendor=tarn").content.decode()
    assert as_(director).get(reverse("day-sheet-csv")).status_code == 403


def test_prices_are_set_and_shown_where_tires_are(prices, rear_lot):
    page = prices("189.5", "4").content.decode()

    assert Listing.objects.get().price == Decimal("189.50")
    assert "189.50" in page
    assert "low: 4 left, order more" in page


@pytest.mark.parametrize("price", ["-3", "much", "1.234"])
def test_a_price_that_cannot_be_is_said_at_its_field(prices, rear_lot, price):
    answer = prices(price, "")

    assert answer.status_code == 422
    assert 'class="refusal"' in answer.content.decode()
    assert not Listing.objects.exists()


def test_a_fitter_sets_no_price(as_, fitter, rear_lot):
    assert as_(fitter).get(reverse("prices")).status_code == 403
