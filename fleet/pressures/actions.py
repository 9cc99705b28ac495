"""Drafting on demand, issuing and withdrawing."""

from datetime import datetime
from typing import Final

from django.db import IntegrityError, transaction
from django.db.models import Max, QuerySet

from fleet.accounts.models import Person, What
from fleet.accounts.policy import Actor, Right, author, may, require
from fleet.accounts.trail import kept_by, note, note_made, values_of
from fleet.errors import Invalid
from fleet.events.models import Day
from fleet.garage.models import Rider
from fleet.notices.actions import tell
from fleet.pressures.content import content_of, digest_of
from fleet.pressures.errors import IssuedAlready, NoConditions, NothingToIssue, NotInForce, OutOfDate
from fleet.pressures.guidance import draft
from fleet.pressures.models import Bulletin, Guidance, GuidanceLine, Override
from fleet.pressures.overrides import is_within, mark_of_overrides
from fleet.pressures.queries import in_force, newest_guidance
from fleet.records import store

LEAST_REASON: Final = 3
LEAST_REASON_BEYOND: Final = 20
LOWEST_KPA: Final = (
    60.0  # common practice, no published source: no tire is ridden at less or more than these two
)
HIGHEST_KPA: Final = 450.0


def draft_day(*, by: Actor, at: datetime, day: Day) -> Guidance:
    """Compute a day's guidance now instead of waiting for the background job."""
    require(by, Right.DRAFT_BULLETIN, day.event.organiser)
    guidance = draft(day, at=at)
    if guidance is None:
        raise NoConditions("No weather is known for this day: enter conditions or paste a METAR first.")
    return guidance


def issue_bulletin(
    *, by: Actor, at: datetime, day: Day, guidance: Guidance | None = None, overrides_seen: str | None = None
) -> Bulletin:
    """Freeze a day's newest guidance as its next bulletin; the one in force before is superseded.

    ``guidance`` is the draft the issuer looked at: when a newer one exists, or somebody issued it already, nothing is
    issued. ``overrides_seen`` is the mark of what was set by hand in it at that moment. Entered riders with an account are
    told once.
    """
    require(by, Right.ISSUE_BULLETIN, day.event.organiser)
    try:
        bulletin = _store(by, at, day, looked_at=guidance, overrides_seen=overrides_seen)
    except IntegrityError as error:
        raise IssuedAlready(
            "Somebody else issued a bulletin at the same moment: read that one first."
        ) from error
    return bulletin


@transaction.atomic
def set_line_by_hand(*, by: Actor, at: datetime, line: GuidanceLine, set_kpa: float, reason: str) -> Override:
    """Put a person's figure in the place of a computed one, with a reason: in the spec's range, or beyond it by who issues bulletins.

    It stands over later drafts of the day until somebody takes it back.
    """
    organiser = line.guidance.day.event.organiser
    require(by, Right.DRAFT_BULLETIN, organiser)
    _require_open_draft(line)
    reason, is_beyond = reason.strip(), not is_within(line, set_kpa)
    if len(reason) < (LEAST_REASON_BEYOND if is_beyond else LEAST_REASON):
        raise Invalid(
            "Say why in a full sentence: this leaves the range the spec allows."
            if is_beyond
            else "Say why in a few words.",
            field="reason",
        )
    if is_beyond and not may(by, Right.ISSUE_BULLETIN, organiser):
        raise Invalid(
            "This leaves the range the spec allows: only the event director goes beyond it, with a written reason.",
            field="set_kpa",
        )
    if not LOWEST_KPA <= set_kpa <= HIGHEST_KPA:
        raise Invalid("No motorcycle tire is set to this: check the figure and its unit.", field="set_kpa")
    owners = kept_by(organiser)
    for earlier in Override.objects.filter(line=line):
        note(earlier, What.TAKEN_BACK, by=by, before=values_of(earlier, "set_kpa", "reason"), **owners)
        earlier.delete()
    made = store(
        Override(
            line=line,
            set_kpa=round(set_kpa, 3),
            reason=reason,
            is_beyond_range=is_beyond,
            made_by=author(by),
            made_at=at,
        )
    )
    return note_made(made, "line", "set_kpa", "reason", "is_beyond_range", by=by, **owners)


@transaction.atomic
def set_tire_by_hand(
    *, by: Actor, at: datetime, line: GuidanceLine, set_kpa: float, reason: str
) -> list[Override]:
    """Put a person's figure in the place of the computed ones of a line's tire and group, in every part of the day."""
    every = GuidanceLine.objects.filter(
        guidance=line.guidance_id,
        group=line.group_id,
        spec=line.spec_id,
        uses_warmers=line.uses_warmers,
        entry=line.entry_id,
    ).select_related("guidance__day__event__organiser", "spec__line", "part")
    return [
        set_line_by_hand(by=by, at=at, line=one, set_kpa=set_kpa, reason=reason)
        for one in every.order_by("part__starts_at")
    ]


@transaction.atomic
def take_back_override(*, by: Actor, line: GuidanceLine) -> None:
    """Let the computed figure of a line stand again; a line nobody set by hand stays as it is."""
    organiser = line.guidance.day.event.organiser
    require(by, Right.DRAFT_BULLETIN, organiser)
    _require_open_draft(line)
    for standing in Override.objects.filter(line=line):
        owners = kept_by(organiser)
        note(standing, What.TAKEN_BACK, by=by, before=values_of(standing, "set_kpa", "reason"), **owners)
        standing.delete()


def _require_open_draft(line: GuidanceLine) -> None:
    """Refuse a line of a draft that was overtaken or issued, and one of a single rider."""
    Day.objects.select_for_update(no_key=True).get(pk=line.guidance.day_id)  # somebody may be issuing it
    newest = newest_guidance(line.guidance.day)
    if newest is None or newest.pk != line.guidance_id:
        raise OutOfDate("The draft changed since you looked at it: read the new one, then set its lines.")
    if newest.bulletins.exists():
        raise IssuedAlready("This draft was issued already: a newer one has to be computed first.")
    if line.entry_id is not None:
        raise Invalid("This line is one rider's own: lines of the bulletin are set by hand.")


@transaction.atomic
def withdraw_bulletin(*, by: Actor, at: datetime, bulletin: Bulletin, reason: str) -> Bulletin:
    """Take back a bulletin that was wrong; it stays readable with the reason, and nothing takes its place."""
    require(by, Right.ISSUE_BULLETIN, bulletin.day.event.organiser)
    if not reason.strip():
        raise Invalid("A bulletin is withdrawn with a reason: say what was wrong.", field="reason")
    withdrawn = Bulletin.objects.filter(in_force(), pk=bulletin.pk).update(
        withdrawn_at=at, withdrawn_by=author(by), withdrawn_because=reason.strip()
    )
    if not withdrawn:
        raise NotInForce("This bulletin is not in force any more: nothing was changed.")
    after = {"withdrawn_because": reason.strip()}
    note(bulletin, What.WITHDRAWN, by=by, after=after, **kept_by(bulletin.day.event.organiser))
    bulletin.refresh_from_db()
    sentence = (
        f"Bulletin {bulletin.number} for {bulletin.day} is withdrawn, do not set by it: {reason.strip()}"
    )
    tell(
        entrants(bulletin.day),
        topic="bulletin",
        about=f"{bulletin.pk}:withdrawn",
        sentence=sentence[:400],
        at=at,
    )
    return bulletin


def entrants(day: Day) -> QuerySet[Person]:
    """Return the accounts of the riders of a day."""
    return Person.objects.filter(pk__in=Rider.objects.filter(entries__day=day).values("person"))


@transaction.atomic
def _store(
    by: Actor, at: datetime, day: Day, *, looked_at: Guidance | None, overrides_seen: str | None
) -> Bulletin:
    guidance = _to_issue(day, looked_at=looked_at)
    if overrides_seen is not None and overrides_seen != mark_of_overrides(guidance):
        raise OutOfDate(
            "Somebody set a line by hand since you looked at the draft: read it again, then issue it."
        )
    last = Bulletin.objects.filter(day=day).aggregate(last=Max("number"))["last"] or 0
    owners = kept_by(day.event.organiser)
    if before := Bulletin.objects.filter(in_force(), day=day).first():
        Bulletin.objects.filter(pk=before.pk).update(superseded_at=at)
        note(before, What.SUPERSEDED, by=by, after={"superseded_at": at}, **owners)
    content = content_of(guidance, number=last + 1, at=at, issued_by=author(by))
    bulletin = Bulletin.objects.create(
        day=day,
        number=last + 1,
        guidance=guidance,
        content=content,
        digest=digest_of(content),
        issued_at=at,
        issued_by=author(by),
    )
    note_made(bulletin, "day", "number", by=by, what=What.ISSUED, **owners)
    instead = f" and takes the place of bulletin {before.number}" if before else ""
    sentence = f"Bulletin {bulletin.number} for {day} is issued{instead}: see what to set."
    tell(entrants(day), topic="bulletin", about=str(bulletin.pk), sentence=sentence, at=at)
    return bulletin


def _to_issue(day: Day, *, looked_at: Guidance | None) -> Guidance:
    """Return the newest guidance when it may be issued; who issues at the same moment waits until this one is done."""
    Day.objects.select_for_update(no_key=True).get(pk=day.pk)
    newest = newest_guidance(day)
    if newest is None or not newest.lines.exists():
        raise NothingToIssue(
            "There is no draft with any line yet: enter conditions, and see that the entered bikes have tires."
        )
    if looked_at is not None and looked_at.pk != newest.pk:
        raise OutOfDate("The draft changed since you looked at it: read the new one, then issue that.")
    if newest.bulletins.exists():
        raise IssuedAlready("This draft was issued already: a new bulletin needs something that changed.")
    return newest
