"""Recall notices, what was read off sidewalls, and who was told by a person."""

from datetime import datetime
from typing import Final

from fleet.accounts.policy import SERVICE
from fleet.catalogue.models import Axle
from fleet.exchange.columns import NO_KEYWORD, Column, Ending, Sheet, fact, fact_columns
from fleet.exchange.kinds import CODE, DATE, KEY, MOMENT, TEXT, choice
from fleet.inventory.actions import enter_recall, lift_recall, read_sidewall, record_contact, void_recall
from fleet.inventory.models import RecallContact, RecallNotice, SidewallReading
from fleet.inventory.revisions import touch
from fleet.records import void


def _lift(notice: RecallNotice, at: datetime, reason: str) -> RecallNotice:
    return lift_recall(by=SERVICE, at=at, notice=notice, reason=reason)


def _void_recall(notice: RecallNotice, at: datetime, reason: str) -> RecallNotice:
    return void_recall(by=SERVICE, at=at, notice=notice, reason=reason)


def _void_reading(reading: SidewallReading, at: datetime, reason: str) -> None:
    void(reading, by=None, at=at, reason=reason)
    touch(reading.tire_id)


def _void_contact(contact: RecallContact, at: datetime, reason: str) -> None:
    void(contact, by=None, at=at, reason=reason)


SHEETS: Final = (
    Sheet(
        name="recalls",
        about="Notices that stop tires: of one spec, or of a line and perhaps one axle of it, by their weeks and plant.",
        columns=fact_columns(
            Column("reference", TEXT, "Number the issuer gave it."),
            Column("issued_by", TEXT, "The maker or the authority."),
            Column("published_on", DATE, "When it was published."),
            Column(
                "spec",
                CODE,
                "Code from specs.csv; empty for a line.",
                required=False,
                take="spec.code",
                refers="spec",
            ),
            Column(
                "maker",
                TEXT,
                "Maker of the line.",
                required=False,
                take="line.maker",
                gives=NO_KEYWORD,
            ),
            Column(
                "line",
                TEXT,
                "Name of the line, from lines.csv; empty for one spec.",
                required=False,
                take="line.name",
                refers="line",
                also=("maker",),
            ),
            Column("axle", choice(Axle), "Only this axle of the line.", required=False, default=""),
            Column("first_code", TEXT, "First week and year of make, such as 0826."),
            Column("last_code", TEXT, "Last week and year of make."),
            Column("plant", TEXT, "Plant, as its code stands on the tire.", required=False),
            Column("what_to_do", TEXT, "What riders are told to do."),
            Column(
                "entered_for",
                CODE,
                "Code from organisations.csv; empty binds everybody.",
                required=False,
                take="entered_for.code",
                refers="organisation",
            ),
            Column("lifted_at", MOMENT, "When it was lifted.", required=False, gives=NO_KEYWORD, living=True),
            Column("lift_reason", TEXT, "Why.", required=False, gives=NO_KEYWORD, living=True),
        ),
        identity=("key",),
        rows=lambda: RecallNotice.objects.select_related("spec", "line", "entered_for"),
        add=fact(enter_recall),
        shelf="recall",
        phase=3,
        endings=(
            Ending("lifted_at", "lift_reason", _lift),
            Ending("voided_at", "void_reason", _void_recall),
        ),
    ),
    Sheet(
        name="sidewalls",
        about="Numbers read off tires, which decide what recalls touch.",
        columns=fact_columns(
            Column("tire", CODE, "Label of the tire.", take="tire.label_code", refers="tire"),
            Column(
                "read_for", CODE, "Code from organisations.csv.", take="read_for.code", refers="organisation"
            ),
            Column("identification", TEXT, "The number, or its four digits of week and year."),
            Column("read_at", MOMENT, "When."),
        ),
        identity=("key",),
        rows=lambda: SidewallReading.objects.select_related("tire", "read_for"),
        add=fact(read_sidewall),
        after=("fittings",),
        phase=3,
        happened="read_at",
        endings=(Ending("voided_at", "void_reason", _void_reading),),
    ),
    Sheet(
        name="recall_contacts",
        about="Riders told about a recall by a person.",
        columns=fact_columns(
            Column("notice", KEY, "Key from recalls.csv.", take="notice_id", refers="recall"),
            Column("rider", CODE, "Code from riders.csv.", take="rider.code", refers="rider"),
            Column(
                "told_for", CODE, "Code from organisations.csv.", take="told_for.code", refers="organisation"
            ),
            Column("way", choice(RecallContact.Way), "How."),
            Column("told_at", MOMENT, "When."),
        ),
        identity=("key",),
        rows=lambda: RecallContact.objects.select_related("rider", "told_for"),
        add=fact(record_contact),
        phase=3,
        happened="told_at",
        endings=(Ending("voided_at", "void_reason", _void_contact),),
    ),
)
