"""Writes of reference notes: shared ones by the service itself, those of an organisation by its testers."""

import uuid
from datetime import date, datetime, timedelta
from typing import Any, Final

from django.db import transaction
from django.db.models import QuerySet

from fleet.accounts.models import Organisation, What
from fleet.accounts.policy import Actor, Right, require, require_service
from fleet.accounts.trail import correct, kept_by, note, note_made, values_of
from fleet.catalogue.models import ReferenceNote, TireSpec
from fleet.errors import Conflict, InTheFuture
from fleet.records import earlier, once, store

SAME: Final = ("spec", "basis", "pressure_kpa", "noted_on", "source")
"""What tells one note from another: two alike in all of it are one, and would count twice."""

AHEAD: Final = timedelta(hours=14)
"""How far the earliest clock on earth is ahead of UTC."""


@transaction.atomic
def note_reference(
    *,
    by: Actor,
    spec: TireSpec,
    basis: str,
    pressure_kpa: float,
    noted_on: date,
    source: str,
    air_c: float | None = None,
    track_surface_c: float | None = None,
    track_name: str = "",
    pace: str = "",
) -> ReferenceNote:
    """Store a pressure somebody reported elsewhere, for everybody's targets."""
    require_service(by)
    made = ReferenceNote(
        spec=spec,
        basis=basis,
        pressure_kpa=pressure_kpa,
        noted_on=noted_on,
        source=source,
        air_c=air_c,
        track_surface_c=track_surface_c,
        track_name=track_name,
        pace=pace,
    )
    return note_made(store(made), by=by)


@once
@transaction.atomic
def gather_note(
    *,
    by: Actor,
    at: datetime,
    organisation: Organisation,
    spec: TireSpec,
    basis: str,
    pressure_kpa: float,
    noted_on: date,
    source: str,
    air_c: float | None = None,
    track_surface_c: float | None = None,
    track_name: str = "",
    pace: str = "",
    key: uuid.UUID | None = None,
) -> ReferenceNote:
    """Store a pressure that an organisation's testers found reported elsewhere; it counts in their tests alone."""
    require(by, Right.RUN_TESTS, organisation)
    made = ReferenceNote(
        id=key or uuid.uuid4(),
        spec=spec,
        organisation=organisation,
        basis=basis,
        pressure_kpa=pressure_kpa,
        noted_on=noted_on,
        source=source.strip(),
        air_c=air_c,
        track_surface_c=track_surface_c,
        track_name=track_name.strip(),
        pace=pace.strip(),
    )
    said = {name: getattr(made, name) for name in ("spec_id", "organisation_id", *SAME[1:])}
    if stored := earlier(ReferenceNote, key, **said):
        return stored
    _check(made, at=at)
    return note_made(store(made), by=by, **kept_by(organisation))


@transaction.atomic
def correct_note(*, by: Actor, at: datetime, gathered: ReferenceNote, **given: Any) -> ReferenceNote:
    """Correct a note that one's own organisation gathered."""
    organisation = _require_own(by, gathered)
    as_it_would_be = ReferenceNote(
        id=gathered.pk,
        organisation=organisation,
        **{name: given.get(name, getattr(gathered, name)) for name in SAME},
    )
    _check(as_it_would_be, at=at)
    return correct(gathered, given, by=by, **kept_by(organisation))


@transaction.atomic
def drop_note(*, by: Actor, gathered: ReferenceNote) -> None:
    """Take out a note that one's own organisation gathered."""
    organisation = _require_own(by, gathered)
    note(gathered, What.DELETED, by=by, before=values_of(gathered), **kept_by(organisation))
    gathered.delete()


@transaction.atomic
def share_note(*, by: Actor, gathered: ReferenceNote) -> ReferenceNote:
    """Make a note that testers gathered everybody's: from now on it counts in all targets."""
    require_service(by)
    if gathered.organisation is None:
        raise Conflict("This note is shared reference data already; nothing was changed.")
    if _alike(gathered).filter(organisation__isnull=True).exists():
        raise Conflict(
            "The same note stands in the shared reference data already: leave this one where it is, or it counts twice."
        )
    return correct(gathered, {"organisation": None}, by=by, **kept_by(gathered.organisation))


def _require_own(by: Actor, gathered: ReferenceNote) -> Organisation:
    """Return the organisation a note belongs to; shared ones are not for testers to change."""
    if gathered.organisation is None:
        require_service(by)
        raise Conflict("A shared note is nobody's own: only notes that testers gathered are changed here.")
    require(by, Right.RUN_TESTS, gathered.organisation)
    return gathered.organisation


def _check(made: ReferenceNote, *, at: datetime) -> None:
    """Refuse a note from a day to come, and one that is kept already."""
    if made.noted_on > (at + AHEAD).date():
        raise InTheFuture(
            f"{made.noted_on} has not come yet: give the day the note is from, or the day you found it.",
            field="noted_on",
        )
    same = _alike(made).exclude(pk=made.pk)
    if same.filter(organisation=made.organisation).exists() or same.filter(organisation=None).exists():
        raise Conflict(
            "This very note is kept already (same tire, pressure, day and source): a note counts once.",
            field="source",
        )


def _alike(one: ReferenceNote) -> QuerySet[ReferenceNote]:
    return ReferenceNote.objects.filter(**{name: getattr(one, name) for name in SAME})
