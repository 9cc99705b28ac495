"""A delivery list: what came from the maker in one go, looked at first, then taken into stock as a whole."""

import re
import uuid
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Final

from django.db import transaction
from django.db.models import QuerySet

from fleet.accounts.models import Organisation, Person
from fleet.accounts.policy import Right, organisations, require
from fleet.catalogue.models import TireSpec
from fleet.errors import Conflict, Refusal
from fleet.exchange.columns import Column, Sheet
from fleet.exchange.faults import Fault
from fleet.exchange.kinds import CODE, COUNT, MONEY, Kind, choice
from fleet.exchange.models import Upload
from fleet.exchange.reading import Line, read_records
from fleet.exchange.uploads import records_of
from fleet.inventory.actions import receive_lot
from fleet.inventory.identification import made_on
from fleet.inventory.models import Lot, Place
from fleet.records import store

KEPT: Final = timedelta(days=1)
# A spreadsheet takes 0826 for a number and drops the nought.
_DATE_CODE: Final = Kind(
    "date code",
    "week and year of manufacture, such as 0826",
    lambda text: text.zfill(4) if re.fullmatch(r"\d{3}", text) else text,
)
DELIVERY: Final = Sheet(
    name="delivery",
    about="Lots that came together.",
    columns=(
        Column("spec", CODE, "Code of the tire in the catalogue."),
        Column("lot", CODE, "Your short name for the lot."),
        Column("date_code", _DATE_CODE, "When they were made, as the sidewall says."),
        Column("quantity", COUNT, "How many tires came."),
        Column("unit_cost", MONEY, "What one tire cost.", required=False),
        Column("place", choice(Place), "Where they are put.", required=False, default=Place.STORE),
    ),
    identity=("lot",),
    rows=Lot.objects.none,
    add=receive_lot,
)


class TakenBefore(Conflict):
    """A list that was taken into stock before."""

    code = "taken-before"


@dataclass(frozen=True)
class Row:
    """One row of a list as it would be taken over, or with what is wrong with it."""

    line: int
    cells: dict[str, Any]
    spec: TireSpec | None
    made: date | None
    faults: list[Fault]


def keep_delivery(*, by: Person, at: datetime, vendor: Organisation, name: str, data: bytes) -> Upload:
    """Store a list's rows to look at; nothing of them is in stock yet."""
    require(by, Right.MANAGE_STOCK, vendor)
    rows = [[number, cells] for number, cells in records_of(data, name)]
    return store(Upload(person=by, organisation=vendor, file_name=name[-100:], rows=rows, made_at=at))


def deliveries_for(by: Person) -> QuerySet[Upload]:
    """Return the lists somebody sent for a vendor whose stock they manage."""
    return Upload.objects.filter(
        person=by, day__isnull=True, organisation__in=organisations(by, Right.MANAGE_STOCK)
    ).select_related("organisation")


def rows_of(upload: Upload, *, on: date) -> tuple[list[Row], list[Fault]]:
    """Return the rows of a list with what each would become, and what is wrong with the list as a whole."""
    reading = read_records(iter([(number, cells) for number, cells in upload.rows]), DELIVERY)
    by_line: dict[int, list[Fault]] = {}
    for fault in reading.faults:
        by_line.setdefault(fault.line, []).append(fault)
    codes = [line.cells["spec"] for line in reading.lines]
    specs = {spec.code: spec for spec in TireSpec.objects.filter(code__in=codes).select_related("line")}
    lots = [line.cells["lot"] for line in reading.lines]
    known = set(Lot.objects.filter(vendor=upload.organisation, code__in=lots).values_list("code", flat=True))
    rows = [_row(line, specs, known, by_line.pop(line.number, []), on) for line in reading.lines]
    header = upload.rows[0][0]
    whole = by_line.pop(header, [])
    rows += [Row(number, {}, None, None, faults) for number, faults in by_line.items()]
    return sorted(rows, key=lambda row: row.line), whole


@transaction.atomic
def receive_delivery(*, by: Person, at: datetime, upload: Upload) -> list[Lot]:
    """Take every lot of a list into stock, or none: the first that is refused is named with its line."""
    require(by, Right.MANAGE_STOCK, upload.organisation)
    if not Upload.objects.filter(pk=upload.pk, taken_at__isnull=True).update(taken_at=at):
        raise TakenBefore("This list is in stock already; it is taken once.")
    rows, whole = rows_of(upload, on=at.date())
    for fault in (*whole, *(fault for row in rows for fault in row.faults)):
        raise Refusal(f"Line {fault.line}: {fault.sentence}")
    return [_received(row, by=by, at=at, upload=upload) for row in rows]


def _received(row: Row, *, by: Person, at: datetime, upload: Upload) -> Lot:
    cells = row.cells
    try:
        return receive_lot(
            by=by,
            at=at,
            vendor=upload.organisation,
            spec=row.spec,  # type: ignore[arg-type]  # a row without one has a fault
            code=cells["lot"],
            date_code=cells["date_code"],
            quantity=cells["quantity"],
            received_at=at,
            place=cells["place"],
            unit_cost=cells["unit_cost"],
            key=uuid.uuid5(upload.pk, str(row.line)),
        )
    except Refusal as refusal:
        raise Refusal(f"Line {row.line}: {refusal.sentence}") from refusal


def _row(line: Line, specs: dict[str, TireSpec], known: set[str], faults: list[Fault], on: date) -> Row:
    def wrong(column: str, sentence: str) -> None:
        faults.append(Fault(DELIVERY.file, line.number, column, sentence))

    cells, made = line.cells, None
    if cells["spec"] not in specs:
        wrong("spec", f"The catalogue has no tire “{cells['spec']}”: check the code, or have the tire added.")
    if cells["lot"] in known:
        wrong("lot", f"You have a lot “{cells['lot']}” already: give this one another name.")
    if cells["quantity"] < 1:
        wrong("quantity", "A delivery holds 1 tire or more.")
    try:
        made = made_on(cells["date_code"], seen_on=on, field="date_code")
    except Refusal as refusal:
        wrong("date_code", refusal.sentence)
    return Row(line.number, cells, specs.get(cells["spec"]), made, faults)
