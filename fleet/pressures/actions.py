"""Drafting on demand, issuing and withdrawing."""

from datetime import datetime

from django.db import IntegrityError, transaction
from django.db.models import Max

from fleet.accounts.models import Person
from fleet.accounts.policy import Actor, Right, author, require
from fleet.errors import Invalid
from fleet.events.models import Day
from fleet.notices.actions import tell
from fleet.pressures.content import content_of, digest_of
from fleet.pressures.errors import IssuedAlready, NoConditions, NothingToIssue, NotInForce, OutOfDate
from fleet.pressures.guidance import draft
from fleet.pressures.models import Bulletin, Guidance
from fleet.pressures.queries import in_force, newest_guidance


def draft_day(*, by: Actor, at: datetime, day: Day) -> Guidance:
    """Compute a day's guidance now instead of waiting for the background job."""
    require(by, Right.DRAFT_BULLETIN, day.event.organiser)
    guidance = draft(day, at=at)
    if guidance is None:
        raise NoConditions("No weather is known for this day: enter conditions or paste a METAR first.")
    return guidance


def issue_bulletin(*, by: Actor, at: datetime, day: Day, guidance: Guidance | None = None) -> Bulletin:
    """Freeze a day's newest guidance as its next bulletin; the one in force before is superseded.

    ``guidance`` is the draft the issuer looked at: when a newer one exists, or somebody issued it already, nothing is
    issued. Entered riders with an account are told once.
    """
    require(by, Right.ISSUE_BULLETIN, day.event.organiser)
    newest = newest_guidance(day)
    if newest is None or not newest.lines.exists():
        raise NothingToIssue(
            "There is no draft with any line yet: enter conditions, and see that the entered bikes have tires."
        )
    if guidance is not None and guidance.pk != newest.pk:
        raise OutOfDate("The draft changed since you looked at it: read the new one, then issue that.")
    if newest.bulletins.exists():
        raise IssuedAlready("This draft was issued already: a new bulletin needs something that changed.")
    try:
        bulletin = _store(by, at, day, newest)
    except IntegrityError as error:
        raise IssuedAlready(
            "Somebody else issued a bulletin at the same moment: read that one first."
        ) from error
    riders = Person.objects.filter(rider__entries__day=day).distinct()
    tell(
        riders,
        topic="bulletin",
        about=str(bulletin.pk),
        sentence=f"Bulletin {bulletin.number} for {day} is issued: see what to set.",
        at=at,
    )
    return bulletin


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
    bulletin.refresh_from_db()
    return bulletin


@transaction.atomic
def _store(by: Actor, at: datetime, day: Day, guidance: Guidance) -> Bulletin:
    last = Bulletin.objects.filter(day=day).aggregate(last=Max("number"))["last"] or 0
    Bulletin.objects.filter(in_force(), day=day).update(superseded_at=at)
    content = content_of(guidance, number=last + 1, at=at, issued_by=author(by))
    return Bulletin.objects.create(
        day=day,
        number=last + 1,
        guidance=guidance,
        content=content,
        digest=digest_of(content),
        issued_at=at,
        issued_by=author(by),
    )
