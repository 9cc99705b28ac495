"""Riders and what they own, and with whom they share."""

from datetime import datetime
from typing import Any, Final

from fleet.accounts.policy import SERVICE, Actor
from fleet.exchange.columns import NO_KEYWORD, Column, Ending, Sheet, thing
from fleet.exchange.kinds import CODE, DATE, EMAIL, MOMENT, NUMBER, TEXT, YES_NO, choice
from fleet.garage.actions import (
    add_bike,
    add_instrument,
    add_wheel_pair,
    register_rider,
    share,
    take_back,
)
from fleet.garage.models import Bike, Instrument, Rider, Sharing, WheelPair


def _share_since(*, by: Actor, granted_at: datetime, **given: Any) -> Sharing:
    return share(by=by, at=granted_at, **given)


def _take_back(sharing: Sharing, at: datetime, _reason: str) -> Sharing:
    return take_back(by=SERVICE, sharing=sharing, at=at)


def _measure(name: str, meaning: str) -> Column:
    return Column(name, NUMBER, meaning, required=False)


RIDER: Final = Column("rider", CODE, "Code from riders.csv.", take="rider.code", refers="rider")

SHEETS: Final = (
    Sheet(
        name="riders",
        about="People who ride, with or without an account.",
        columns=(
            Column("code", CODE, "Short name other files refer to."),
            Column("name", TEXT, "Full name."),
            Column("contact", TEXT, "How to reach them.", required=False),
            Column(
                "registered_with",
                CODE,
                "Vendor whose customer the rider is: a code from organisations.csv.",
                required=False,
                take="registered_with.code",
                refers="organisation",
            ),
            Column(
                "email",
                EMAIL,
                "Account from people.csv; empty for a walk-in.",
                required=False,
                take="person.email",
                gives="person",
                refers="person",
                living=True,
            ),
        ),
        identity=("code",),
        rows=lambda: Rider.objects.select_related("registered_with", "person"),
        add=thing(register_rider),
        shelf="rider",
    ),
    Sheet(
        name="bikes",
        about="Motorcycles, described by their class.",
        columns=(
            RIDER,
            Column("code", CODE, "Short name other files refer to."),
            Column("description", TEXT, "Class of the bike, such as 600 sport."),
            _measure("wheelbase_mm", "Wheelbase in mm."),
            _measure("rake_deg", "Steering head angle in degrees."),
            _measure("fork_offset_mm", "Fork offset in mm."),
            _measure("front_rim_in", "Width of the front rim in inches."),
            _measure("rear_rim_in", "Width of the rear rim in inches."),
        ),
        identity=("code",),
        rows=lambda: Bike.objects.select_related("rider"),
        add=thing(add_bike),
        shelf="bike",
    ),
    Sheet(
        name="wheel_pairs",
        about="A front and a rear wheel that go on a bike together.",
        columns=(
            Column("bike", CODE, "Code from bikes.csv.", take="bike.code", refers="bike"),
            Column("code", CODE, "Short name other files refer to."),
            Column("name", TEXT, "What the rider calls it, such as dry."),
            Column(
                "is_in_use",
                YES_NO,
                "Whether it is on the bike now; one pair of a bike is.",
                required=False,
                default=True,
                living=True,
            ),
        ),
        identity=("code",),
        rows=lambda: WheelPair.objects.select_related("bike"),
        add=thing(add_wheel_pair),
        shelf="wheel_pair",
    ),
    Sheet(
        name="instruments",
        about="Gauges, with how far they read off where that is known.",
        columns=(
            Column("code", CODE, "Short name other files refer to."),
            Column("name", TEXT, "What it is called."),
            Column("kind", choice(Instrument.Kind), "What it measures."),
            Column(
                "rider",
                CODE,
                "Its owner, from riders.csv; or else give the organisation.",
                required=False,
                take="rider.code",
                refers="rider",
            ),
            Column(
                "organisation",
                CODE,
                "Its owner, from organisations.csv; or else give the rider.",
                required=False,
                take="organisation.code",
                refers="organisation",
            ),
            _measure("step_kpa", "Smallest step it shows, in kPa."),
            Column(
                "offset_kpa",
                NUMBER,
                "What it reads too much, in kPa: reading minus truth.",
                required=False,
                default=0.0,
            ),
            Column("compared_on", DATE, "Day it was compared with a better one.", required=False),
        ),
        identity=("code",),
        rows=lambda: Instrument.objects.select_related("rider", "organisation"),
        add=thing(add_instrument),
        shelf="instrument",
    ),
    Sheet(
        name="sharings",
        about="Riders' permissions that an organisation may see something of theirs.",
        columns=(
            RIDER,
            Column(
                "organisation",
                CODE,
                "Who may see it: a code from organisations.csv.",
                take="organisation.code",
                refers="organisation",
            ),
            Column("scope", choice(Sharing.Scope), "What is shared."),
            Column("granted_at", MOMENT, "Since when."),
            Column(
                "withdrawn_at",
                MOMENT,
                "When it was taken back; empty while it holds.",
                required=False,
                gives=NO_KEYWORD,
                living=True,
            ),
        ),
        identity=("rider", "organisation", "scope", "granted_at"),
        rows=lambda: Sharing.objects.select_related("rider", "organisation"),
        add=thing(_share_since),
        endings=(Ending("withdrawn_at", "", _take_back),),
    ),
)
