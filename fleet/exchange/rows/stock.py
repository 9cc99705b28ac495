"""Lots with their receipt, the other lines of the ledger, and riders' own tires."""

from datetime import datetime
from typing import Any, Final

from django.db.models import F, OuterRef, Prefetch, QuerySet, Subquery

from fleet.exchange.columns import (
    NO_KEYWORD,
    RECORDED,
    VOIDED,
    Column,
    Ending,
    Sheet,
    fact,
    fact_columns,
    thing,
)
from fleet.exchange.kinds import CODE, COUNT, KEY, MOMENT, MONEY, TEXT, choice
from fleet.inventory.actions import add_own_tire, list_spec, move_stock, receive_lot
from fleet.inventory.handover import Handover
from fleet.inventory.models import Listing, Lot, Place, StockMovement, Tire
from fleet.inventory.ownership import done, with_hands
from fleet.records import void

RECEIPTS: Final = StockMovement.objects.filter(kind=StockMovement.Kind.RECEIVED).order_by("recorded_at", "id")


def _lots() -> QuerySet[Lot]:
    return Lot.objects.select_related("vendor", "spec").prefetch_related(
        Prefetch("movements", RECEIPTS.all(), to_attr="receipts")
    )


def _receipt(lot: Any) -> StockMovement | None:
    receipts = getattr(lot, "receipts", None)
    if receipts is None:
        receipts = list(RECEIPTS.filter(lot=lot)[:1])
    return receipts[0] if receipts else None


def _of_receipt(name: str) -> Any:
    return lambda lot: getattr(_receipt(lot), name, None)


def _movements() -> QuerySet[StockMovement]:
    first = Subquery(RECEIPTS.filter(lot=OuterRef("lot")).values("pk")[:1])
    rows: QuerySet[StockMovement] = (
        StockMovement.objects.filter(fitting__isnull=True)
        .annotate(receipt=first)
        .exclude(kind=StockMovement.Kind.RECEIVED, pk=F("receipt"))
        .select_related("lot__vendor")
    )
    return rows


def _void_receipt(lot: Lot, at: datetime, reason: str) -> None:
    receipt = _receipt(lot)
    if receipt is not None:
        void(receipt, by=None, at=at, reason=reason)


def _void_movement(movement: StockMovement, at: datetime, reason: str) -> None:
    void(movement, by=None, at=at, reason=reason)


PLACE: Final = choice(Place)
RECORDED_RECEIPT, *VOIDED_RECEIPT = (
    Column(
        one.name,
        one.kind,
        one.meaning,
        required=False,
        take=_of_receipt(one.name),
        gives=NO_KEYWORD,
        living=True,
    )
    for one in (RECORDED, *VOIDED)
)


def _first_owner(tire: Tire) -> str:
    hands: list[Handover] | None = getattr(tire, "hands", None)
    if hands is None:
        hands = list(done().filter(tire=tire).select_related("giver").order_by("handed_at")[:1])
    return hands[0].giver.code if hands else tire.owner.code


SHEETS: Final = (
    Sheet(
        name="listings",
        about="What a vendor asks for a tire.",
        columns=(
            Column("vendor", CODE, "Code from organisations.csv.", take="vendor.code", refers="organisation"),
            Column("spec", CODE, "Code from specs.csv.", take="spec.code", refers="spec"),
            Column("price", MONEY, "Price of one tire, in the vendor's currency.", living=True),
            Column("low_at", COUNT, "How few left in all are few.", required=False, default=0, living=True),
        ),
        identity=("vendor", "spec"),
        rows=lambda: Listing.objects.select_related("vendor", "spec"),
        add=thing(list_spec),
    ),
    Sheet(
        name="lots",
        about="Deliveries of one spec with one date code, each with its receipt.",
        columns=(
            Column("vendor", CODE, "Code from organisations.csv.", take="vendor.code", refers="organisation"),
            Column("code", CODE, "Short name within the vendor."),
            Column("spec", CODE, "Code from specs.csv.", take="spec.code", refers="spec"),
            Column("date_code", TEXT, "Week and year of manufacture, such as 0826."),
            Column("unit_cost", MONEY, "What one tire cost.", required=False),
            Column("quantity", COUNT, "How many tires came.", take=_of_receipt("quantity")),
            Column("received_at", MOMENT, "When they came.", take=_of_receipt("moved_at")),
            Column(
                "place",
                PLACE,
                "Where they were put.",
                required=False,
                default="store",
                take=_of_receipt("place"),
            ),
            Column("key", KEY, "Key of the receipt.", required=False, take=_of_receipt("pk")),
            RECORDED_RECEIPT,
            *VOIDED_RECEIPT,
        ),
        identity=("vendor", "code"),
        rows=_lots,
        add=fact(receive_lot),
        shelf="lot",
        phase=1,
        happened="received_at",
        endings=(Ending("voided_at", "void_reason", _void_receipt),),
    ),
    Sheet(
        name="movements",
        about="The other lines of a lot's ledger; fittings from stock bring their own.",
        columns=fact_columns(
            Column("vendor", CODE, "Code from organisations.csv.", take="lot.vendor.code", gives=NO_KEYWORD),
            Column("lot", CODE, "Code from lots.csv.", take="lot.code", refers="lot", also=("vendor",)),
            Column("kind", choice(StockMovement.Kind), "Why the number changed."),
            Column("place", PLACE, "Where."),
            Column("quantity", COUNT, "Tires added, negative where they left."),
            Column("moved_at", MOMENT, "When."),
            Column("reason", TEXT, "Why; a count or a write-off needs it.", required=False),
            Column("unit_price", MONEY, "What one tire sold for, or came back for.", required=False),
            Column(
                "reservation",
                KEY,
                "Key from reservations.csv, of the one a sale handed over.",
                required=False,
                take="reservation_id",
                refers="reservation",
            ),
        ),
        identity=("key",),
        rows=_movements,
        add=fact(move_stock),
        phase=2,
        happened="moved_at",
        endings=(Ending("voided_at", "void_reason", _void_movement),),
    ),
    Sheet(
        name="tires",
        about="Tires riders bought elsewhere; those from stock come with their first fitting.",
        columns=(
            Column("label_code", CODE, "Code on the tire's label; other files refer to it."),
            Column(
                "rider",
                CODE,
                "First owner, from riders.csv; handovers.csv tells the others.",
                take=_first_owner,
                refers="rider",
            ),
            Column("spec", CODE, "Code from specs.csv.", take="spec.code", refers="spec"),
            Column(
                "identification",
                TEXT,
                "Identification number or date code, such as 0826; empty where it cannot be read.",
                required=False,
            ),
        ),
        identity=("label_code",),
        rows=lambda: with_hands(Tire.objects.filter(lot__isnull=True)).select_related("owner", "spec"),
        add=fact(add_own_tire),
        shelf="tire",
    ),
)
