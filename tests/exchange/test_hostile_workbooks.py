"""Workbooks made by hand to break or to busy the service are refused like any other broken file."""

import io
import time
import zipfile

import pytest
from openpyxl import Workbook

from fleet.errors import Invalid
from fleet.exchange.uploads import records_of

NAMES = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
HEAD = '<?xml version="1.0"?>'
ENTITY = '<!DOCTYPE l [<!ENTITY x SYSTEM "file:///etc/hostname">]>'


def workbook(cells, *, head=HEAD):
    """Return a workbook whose only sheet holds these rows as they are written here."""
    book, file, made = Workbook(), io.BytesIO(), io.BytesIO()
    book.save(file)
    sheet = f'{head}<worksheet xmlns="{NAMES}"><sheetData>{cells}</sheetData></worksheet>'
    with zipfile.ZipFile(file) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.namelist():
            new.writestr(part, sheet if part.endswith("sheet1.xml") else old.read(part))
    return made.getvalue()


@pytest.mark.parametrize(
    ("cell", "head"),
    [
        ('<c r="A1"><v>four</v></c>', HEAD),
        ('<c r="A1"><v>NaN</v></c>', HEAD),
        ('<c r="A1" t="s"><v>999</v></c>', HEAD),
        ('<c r="A1" t="d"><v>yesterday</v></c>', HEAD),
        ('<c r="1A"><v>1</v></c>', HEAD),
        ('<c r="A1" t="inlineStr"><is><t>&x;</t></is></c>', HEAD + ENTITY),
    ],
)
def test_a_cell_that_cannot_be_read_makes_the_workbook_a_broken_one(cell, head):
    with pytest.raises(Invalid, match="broken or protected"):
        records_of(workbook(f'<row r="1">{cell}</row>', head=head), "list.xlsx")


def test_rows_that_claim_the_last_column_there_is_cost_no_more_than_others():
    rows = "".join(
        f'<row r="{number}"><c r="A{number}"><v>1</v></c><c r="XFD{number}"/></row>'
        for number in range(1, 2001)
    )
    began = time.process_time()

    found = records_of(workbook(rows), "list.xlsx")

    assert found[-1] == (2000, ["1"])
    assert time.process_time() - began < 1.5


def test_a_cell_beyond_the_last_column_allowed_is_refused():
    with pytest.raises(Invalid, match="at most 100 columns"):
        records_of(workbook('<row r="1"><c r="CW1"><v>1</v></c></row>'), "list.xlsx")
