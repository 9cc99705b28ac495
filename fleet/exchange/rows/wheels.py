"""Job tickets, fittings, removals and holds."""

from datetime import date, datetime
from typing import Any, Final

from fleet.accounts.policy import SERVICE, Actor
from fleet.catalogue.models import Axle
from fleet.errors import Invalid
from fleet.exchange.columns import NO_KEYWORD, Cells, Column, Ending, Sheet, fact, fact_columns, thing
from fleet.exchange.kinds import CODE, COUNT, DATE, KEY, MOMENT, MONEY, TEXT, choice
from fleet.exchange.known import ticket_name
from fleet.inventory.actions import (
    advance_ticket,
    fit_tire,
    lift_hold,
    place_hold,
    remove_tire,
    take_wheels_in,
    void_fitting,
    void_removal,
    wish_for_wheel,
)
from fleet.inventory.models import Fitting, Hold, JobTicket, Lot, Place, Removal, TicketWish, Tire
from fleet.inventory.revisions import touch
from fleet.records import void


def _take_in(*, by: Actor, opened_at: datetime, opened_on: date, number: int, **given: Any) -> JobTicket:
    ticket = take_wheels_in(by=by, at=opened_at, opened_on=opened_on, **given)
    if ticket.number != number:
        raise Invalid(
            f"Tickets of a vendor's day are numbered from 1 without gaps: the next one is {ticket.number}.",
            field="number",
        )
    return ticket


def _advance(ticket: JobTicket, cells: Cells) -> None:
    if ticket.state != cells["state"]:
        advance_ticket(by=SERVICE, ticket=ticket, state=cells["state"])


def _fit(*, tire: str, lot: Lot | None, place: str, identification: str, **given: Any) -> Fitting:
    if lot is not None:
        return fit_tire(lot=lot, place=place, label_code=tire, identification=identification, **given)
    known = Tire.objects.select_related("spec__line", "owner").filter(label_code=tire).first()
    if known is None:
        raise Invalid(
            f"There is no tire labeled {tire!r}: add a rider's own to tires.csv, or name the lot it came from.",
            field="tire",
        )
    if given.pop("reservation", None) is not None:
        raise Invalid(
            "Only a tire from a lot is kept for somebody: leave the reservation out.", field="reservation"
        )
    return fit_tire(tire=known, **given)


def _void_fitting(fitting: Fitting, at: datetime, reason: str) -> Fitting:
    return void_fitting(by=SERVICE, at=at, fitting=fitting, reason=reason)


def _void_removal(removal: Removal, at: datetime, reason: str) -> Removal:
    return void_removal(by=SERVICE, at=at, removal=removal, reason=reason)


def _lift(hold: Hold, at: datetime, reason: str) -> Hold:
    return lift_hold(by=SERVICE, at=at, hold=hold, reason=reason)


def _void_hold(hold: Hold, at: datetime, reason: str) -> None:
    void(hold, by=None, at=at, reason=reason)
    touch(hold.tire_id)


def _from_stock(name: str) -> Any:
    def take(fitting: Fitting) -> Any:
        if fitting.movement is None:
            return None
        return {
            "lot": fitting.tire.lot and fitting.tire.lot.code,
            "place": fitting.movement.place,
            "identification": fitting.tire.identification,
        }[name]

    return take


VENDOR: Final = "Code from organisations.csv."

SHEETS: Final = (
    Sheet(
        name="tickets",
        about="Wheels handed in at a trailer.",
        columns=(
            Column("vendor", CODE, VENDOR, take="vendor.code", refers="organisation"),
            Column("opened_on", DATE, "Day of the ticket, where the trailer stands."),
            Column("number", COUNT, "Number of the day, from 1."),
            Column(
                "wheel_pair", CODE, "Code from wheel_pairs.csv.", take="wheel_pair.code", refers="wheel_pair"
            ),
            Column("opened_at", MOMENT, "When the wheels came in."),
            Column("promised_at", MOMENT, "When they are to be ready.", required=False, living=True),
            Column("wish", TEXT, "What else the rider asked for.", required=False, living=True),
            Column(
                "state",
                choice(JobTicket.State),
                "Where they are in the work.",
                required=False,
                default="waiting",
                gives=NO_KEYWORD,
                living=True,
            ),
        ),
        identity=("vendor", "opened_on", "number"),
        rows=lambda: JobTicket.objects.select_related("vendor", "wheel_pair"),
        add=thing(_take_in),
        shelf="ticket",
        settle=_advance,
    ),
    Sheet(
        name="wishes",
        about="What is wished for one wheel of a ticket.",
        columns=(
            Column(
                "vendor", CODE, VENDOR, take="ticket.vendor.code", refers="organisation", gives=NO_KEYWORD
            ),
            Column(
                "ticket",
                TEXT,
                "Job ticket of the vendor, such as 2026-06-12/3.",
                take=lambda wish: ticket_name(wish.ticket),
                refers="ticket",
                also=("vendor",),
            ),
            Column("axle", choice(Axle), "Which wheel."),
            Column(
                "spec",
                CODE,
                "Code from specs.csv of what goes on from stock.",
                required=False,
                take="spec.code",
                refers="spec",
                living=True,
            ),
            Column(
                "tire",
                CODE,
                "Label of the rider's own tire that goes on.",
                required=False,
                take="own_tire.label_code",
                gives="own_tire",
                refers="tire",
                living=True,
            ),
            Column(
                "destination",
                choice(Removal.Destination),
                "What happens with what comes off.",
                required=False,
                default="",
                living=True,
            ),
            Column(
                "recorded_at",
                MOMENT,
                "When it was last said; the moment of the import where it is empty.",
                required=False,
                take="wished_at",
                gives=NO_KEYWORD,
                living=True,
            ),
        ),
        identity=("vendor", "ticket", "axle"),
        rows=lambda: TicketWish.objects.select_related("ticket__vendor", "spec", "own_tire"),
        add=fact(wish_for_wheel),
        after=("fittings", "tires"),
        phase=4,
    ),
    Sheet(
        name="fittings",
        about="A tire put on an axle: from a lot, or a known one.",
        columns=fact_columns(
            Column(
                "wheel_pair", CODE, "Code from wheel_pairs.csv.", take="wheel_pair.code", refers="wheel_pair"
            ),
            Column("axle", choice(Axle), "Which end of the bike."),
            Column("fitted_at", MOMENT, "When."),
            Column(
                "vendor", CODE, "Who fitted it.", required=False, take="vendor.code", refers="organisation"
            ),
            Column(
                "lot",
                CODE,
                "Lot of the vendor the tire came from; empty for a tire known before.",
                required=False,
                take=_from_stock("lot"),
                refers="lot",
                also=("vendor",),
            ),
            Column(
                "place",
                choice(Place),
                "Where the lot's tire was taken from.",
                required=False,
                default="trailer",
                take=_from_stock("place"),
            ),
            Column(
                "tire",
                CODE,
                "Label: of the known tire, or the one to give to the tire from the lot.",
                required=False,
                default="",
                take="tire.label_code",
            ),
            Column(
                "identification",
                TEXT,
                "Identification number of a tire from a lot, where it was read.",
                required=False,
                take=_from_stock("identification"),
            ),
            Column(
                "unit_price",
                MONEY,
                "What the tire from a lot sold for.",
                required=False,
                take=lambda fitting: fitting.movement and fitting.movement.unit_price,
            ),
            Column(
                "reservation",
                KEY,
                "Key from reservations.csv, of the one the tire was kept for.",
                required=False,
                take=lambda fitting: fitting.movement and fitting.movement.reservation_id,
                refers="reservation",
            ),
            Column(
                "ticket",
                TEXT,
                "Job ticket of the vendor it belongs to, such as 2026-06-12/3.",
                required=False,
                take=lambda fitting: fitting.ticket and ticket_name(fitting.ticket),
                refers="ticket",
                also=("vendor",),
            ),
        ),
        identity=("key",),
        rows=lambda: Fitting.objects.select_related(
            "tire__lot", "wheel_pair", "vendor", "ticket", "movement"
        ),
        add=fact(_fit),
        shelf="fitting",
        brings=(("tire", "tire"),),
        after=("tires", "movements"),
        phase=3,
        happened="fitted_at",
        endings=(Ending("voided_at", "void_reason", _void_fitting),),
    ),
    Sheet(
        name="removals",
        about="The end of a fitting.",
        columns=fact_columns(
            Column("fitting", KEY, "Key from fittings.csv.", take="fitting_id", refers="fitting"),
            Column("removed_at", MOMENT, "When."),
            Column("reason", choice(Removal.Reason), "Why."),
            Column("destination", choice(Removal.Destination), "Where the tire went."),
            Column(
                "vendor",
                CODE,
                "Who took it off; keeps a tire that goes on hold.",
                required=False,
                take="vendor.code",
                refers="organisation",
            ),
        ),
        identity=("key",),
        rows=lambda: Removal.objects.select_related("vendor"),
        add=fact(remove_tire),
        phase=3,
        happened="removed_at",
        endings=(Ending("voided_at", "void_reason", _void_removal),),
    ),
    Sheet(
        name="holds",
        about="Tires that must not be used until the hold is lifted.",
        columns=fact_columns(
            Column("tire", CODE, "Label of the tire.", take="tire.label_code", refers="tire"),
            Column("placed_for", CODE, "Who wants it held.", take="placed_for.code", refers="organisation"),
            Column("reason", choice(Hold.Reason), "Why."),
            Column("note", TEXT, "What was seen.", required=False),
            Column("placed_at", MOMENT, "When."),
            Column("lifted_at", MOMENT, "When it was lifted.", required=False, gives=NO_KEYWORD, living=True),
            Column("lift_reason", TEXT, "What was checked.", required=False, gives=NO_KEYWORD, living=True),
        ),
        identity=("key",),
        rows=lambda: Hold.objects.select_related("tire", "placed_for"),
        add=fact(place_hold),
        after=("fittings", "removals"),
        shelf="hold",
        phase=3,
        happened="placed_at",
        endings=(
            Ending("lifted_at", "lift_reason", _lift),
            Ending("voided_at", "void_reason", _void_hold),
        ),
    ),
)
