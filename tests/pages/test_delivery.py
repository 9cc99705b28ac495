"""A delivery list: looked at first, every bad row named, taken into stock once and as a whole."""

import io
import zipfile
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import Workbook

from fleet.errors import Invalid
from fleet.exchange.models import Upload
from fleet.exchange.tasks import sweep_uploads
from fleet.exchange.uploads import MOST_ROWS, records_of
from fleet.inventory.models import Lot
from fleet.inventory.queries import left_at

HEADER = ["spec", "lot", "date_code", "quantity", "unit_cost", "place"]


def csv_of(*rows, header=HEADER, separator=","):
    return "\n".join(separator.join(str(cell) for cell in row) for row in [header, *rows]).encode()


def workbook_of(*rows):
    book = Workbook()
    for row in [HEADER, *rows]:
        book.active.append(row)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


@pytest.fixture
def manager(as_, stock_manager):
    return as_(stock_manager)


@pytest.fixture
def send(manager, tarn):
    def sent(data, name="delivery.csv"):
        return manager.post(
            reverse("send-list"), {"vendor": tarn.pk, "file": SimpleUploadedFile(name, data)}, follow=True
        )

    return sent


@pytest.fixture
def rows(rear_lot, front_lot):
    return [
        [rear_lot.spec.code, "new-r", "1026", 6, 151.2, "store"],
        [front_lot.spec.code, "new-f", "0826", 4, "", "trailer"],
    ]


@pytest.mark.parametrize("kind", ["csv", "semicolons", "xlsx"])
def test_a_list_is_shown_first_and_taken_on_a_second_word(manager, send, rows, kind):
    data = {
        "csv": csv_of(*rows),
        "semicolons": csv_of(*rows, separator=";"),
        "xlsx": workbook_of(*rows),
    }[kind]

    shown = send(data, f"delivery.{'xlsx' if kind == 'xlsx' else 'csv'}")
    before = Lot.objects.filter(code__startswith="new-").count()
    answer = manager.post(shown.request["PATH_INFO"], follow=True)

    assert "Take 2 lots into stock" in shown.content.decode()
    assert before == 0
    assert "2 lots are in stock." in answer.content.decode()
    assert left_at(Lot.objects.get(code="new-r"), "store") == 6
    assert left_at(Lot.objects.get(code="new-f"), "trailer") == 4


def test_a_nought_that_the_spreadsheet_dropped_is_put_back(manager, send, rows):
    rows[1][2] = 826

    manager.post(send(workbook_of(*rows), "d.xlsx").request["PATH_INFO"])

    assert Lot.objects.get(code="new-f").date_code == "0826"


@pytest.mark.parametrize(
    ("place", "value", "sentence"),
    [
        (0, "no-such", "The catalogue has no tire “no-such”"),
        (1, "lot-r", "You have a lot “lot-r” already"),
        (1, "", "The cell is empty"),
        (2, "5426", "week"),
        (3, 0, "A delivery holds 1 tire or more."),
        (3, "six", "a whole number, such as 7"),
        (4, "-3", "an amount with at most two decimals"),
        (5, "shed", "store"),
        (1, "=cmd", "letters, digits, hyphens"),
    ],
)
def test_a_bad_row_is_named_and_nothing_is_taken(manager, send, rows, place, value, sentence):
    rows[1][place] = value

    shown = send(csv_of(*rows))
    page = shown.content.decode()
    answer = manager.post(shown.request["PATH_INFO"])

    assert sentence in page
    assert "1 of 2 rows cannot be taken as they are" in page
    assert "into stock</button>" not in page
    assert answer.status_code == 422
    assert not Lot.objects.filter(code__startswith="new-").exists()


def test_two_rows_with_one_lot_are_refused(send, rows):
    rows[1][1] = "new-r"

    assert "Line 2 holds the same lot" in send(csv_of(*rows)).content.decode()


def test_a_column_nobody_knows_is_named_with_those_that_would_be_right(send, rows):
    page = send(csv_of(*rows, header=["spec", "lot", "dot", "quantity", "unit_cost", "place"])).content

    assert "There is no such column: use spec, lot, date_code" in page.decode()


def bomb():
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", b"0" * (61 * 1024 * 1024))
    return file.getvalue()


@pytest.mark.parametrize(
    ("data", "name", "sentence"),
    [
        (b"", "a.csv", "The file is empty"),
        (b"\n\n", "a.csv", "The file is empty"),
        (b"\xff\xfe\x00a", "a.csv", "no text in UTF-8"),
        (b"spec,lot\0", "a.csv", "NUL"),
        (b'spec,lot\n"open', "a.csv", "cannot be read"),
        (b"PK\x03\x04 broken", "a.xlsx", "broken or protected"),
        (bomb(), "a.xlsx", "unpacks to more than 60 MB"),
        (b"\xd0\xcf\x11\xe0", "a.xls", "the old form of a workbook"),
        (b"a," * 200, "a.csv", "at most 100 columns"),
    ],
)
def test_a_file_that_is_no_list_is_refused_at_its_field(send, data, name, sentence):
    answer = send(data, name)

    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert not Upload.objects.exists()


def test_a_list_too_long_or_too_large_is_refused():
    with pytest.raises(Invalid, match="more than 20000 rows"):
        records_of(b"a\n" * (MOST_ROWS + 2), "a.csv")
    with pytest.raises(Invalid, match="at most 5 MB"):
        records_of(b"a" * (5 * 1024 * 1024 + 1), "a.csv")


def test_a_list_is_taken_once(manager, send, rows):
    address = send(csv_of(*rows)).request["PATH_INFO"]
    manager.post(address)

    answer = manager.post(address, follow=True)

    assert "in stock already; it is taken once" in answer.content.decode()
    assert Lot.objects.filter(code="new-r").count() == 1


def test_nobody_else_sees_a_list(as_, fitter, stranger, manager, send, rows):
    address = send(csv_of(*rows)).request["PATH_INFO"]

    assert as_(fitter).get(address).status_code == 404
    assert as_(stranger).post(address).status_code == 404
    assert as_(fitter).get(reverse("send-list")).status_code == 403


def test_a_list_is_forgotten_after_a_day(send, rows):
    send(csv_of(*rows))
    kept = sweep_uploads()
    Upload.objects.update(made_at=Upload.objects.get().made_at - timedelta(days=1, minutes=1))

    assert (kept, sweep_uploads()) == (0, 1)


def test_many_rows_are_looked_up_in_a_fixed_number_of_queries(
    send, manager, rows, django_assert_max_num_queries
):
    many = [[rows[0][0], f"new-{number}", "1026", 2, "", ""] for number in range(300)]
    address = send(csv_of(*many)).request["PATH_INFO"]

    with django_assert_max_num_queries(20):
        page = manager.get(address).content.decode()

    assert "Take 300 lots into stock" in page
