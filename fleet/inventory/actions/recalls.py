"""Writes of recall notices, of what sidewalls say, and of who was told."""

import re
import uuid
from datetime import date, datetime, timedelta
from typing import Final

from django.db import transaction

from fleet.accounts.models import Organisation, What
from fleet.accounts.policy import (
    SHARED_AFTER_EVENT,
    Actor,
    Right,
    Service,
    author,
    may,
    require,
    require_service,
)
from fleet.accounts.trail import kept_by, note
from fleet.catalogue.models import TireLine, TireSpec
from fleet.celery import wake
from fleet.errors import Invalid, NotFound
from fleet.garage.models import Rider
from fleet.inventory.actions.access import require_holder
from fleet.inventory.errors import RecallLifted
from fleet.inventory.identification import made_on
from fleet.inventory.models import RecallContact, RecallNotice
from fleet.inventory.queries import in_reach
from fleet.inventory.recalls import tires_touched
from fleet.inventory.revisions import ASSESS, TELL_RECALLED, touch_all
from fleet.records import check_past, earlier, once, store, void

PLANT: Final = re.compile(r"[0-9A-HJ-NPRT-Y]{2,3}")
DATE_CODE: Final = re.compile(r"\d{4}")


@once
@transaction.atomic
def enter_recall(
    *,
    by: Actor,
    at: datetime,
    reference: str,
    issued_by: str,
    published_on: date,
    first_code: str,
    last_code: str,
    what_to_do: str,
    spec: TireSpec | None = None,
    line: TireLine | None = None,
    axle: str = "",
    plant: str = "",
    entered_for: Organisation | None = None,
    key: uuid.UUID | None = None,
) -> RecallNotice:
    """Stop every tire of a spec or line made in some weeks: from now on none is fitted or sold, and riders are told."""
    _require_right(by, entered_for)
    plant = plant.strip().upper()
    if stored := earlier(
        RecallNotice,
        key,
        reference=reference,
        first_code=first_code,
        last_code=last_code,
        plant=plant,
        axle=axle,
        spec_id=spec and spec.pk,
        line_id=line and line.pk,
        entered_for_id=entered_for and entered_for.pk,
    ):
        return stored
    _check_named(spec, line, axle, plant)
    if published_on > at.date() + timedelta(days=1):
        raise Invalid("A notice was published before it is entered: check the date.", field="published_on")
    made_from, made_to = (
        _week(code, at, field) for code, field in ((first_code, "first_code"), (last_code, "last_code"))
    )
    if made_from > made_to:
        raise Invalid(
            f"{last_code} is an earlier week than {first_code}: give the first week first. Codes are week and year.",
            field="last_code",
        )
    notice = store(
        RecallNotice(
            id=key or uuid.uuid4(),
            reference=reference,
            issued_by=issued_by,
            published_on=published_on,
            spec=spec,
            line=line,
            axle=axle,
            first_code=first_code,
            last_code=last_code,
            made_from=made_from,
            made_to=made_to,
            plant=plant,
            what_to_do=what_to_do,
            entered_for=entered_for,
            recorded_by=author(by),
            recorded_at=at,
        )
    )
    _make_known(notice)
    return notice


@transaction.atomic
def lift_recall(*, by: Actor, at: datetime, notice: RecallNotice, reason: str) -> RecallNotice:
    """End a notice that its issuer took back or that was dealt with; only who entered it does, with a reason."""
    _require_right(by, notice.entered_for)
    if not reason.strip():
        raise Invalid(
            "A recall is lifted with a reason: say who took it back or what was done.", field="reason"
        )
    standing = RecallNotice.objects.filter(pk=notice.pk, lifted_at__isnull=True, voided_at__isnull=True)
    after = {"lifted_at": at, "lift_reason": reason.strip()}
    if not standing.update(lifted_by=author(by), **after):
        raise RecallLifted("This recall was lifted or voided before; nothing was changed.")
    note(notice, What.LIFTED, by=by, after=after, **kept_by(notice.entered_for))
    notice.refresh_from_db()
    _make_known(notice)
    return notice


@transaction.atomic
def void_recall(*, by: Actor, at: datetime, notice: RecallNotice, reason: str) -> RecallNotice:
    """Mark a notice as entered wrongly; the right one is entered anew."""
    _require_right(by, notice.entered_for)
    void(notice, by=author(by), at=at, reason=reason)
    _make_known(notice)
    return notice


@once
@transaction.atomic
def record_contact(
    *,
    by: Actor,
    at: datetime,
    notice: RecallNotice,
    rider: Rider,
    told_for: Organisation,
    way: str,
    told_at: datetime,
    key: uuid.UUID | None = None,
) -> RecallContact:
    """Note that a rider was told about a recall by a person, for a vendor or an organiser the rider knows."""
    if not may(by, Right.RECALL, told_for):
        require_holder(by, told_for)
    is_theirs = notice.entered_for_id in {None, told_for.pk}
    since = notice.recorded_at.date() - SHARED_AFTER_EVENT
    if not isinstance(by, Service) and not (
        is_theirs and in_reach(told_for, since=since).filter(pk=rider.pk).exists()
    ):
        raise NotFound(
            "There is no such rider for you: those a recall reaches are your customers and entrants."
        )
    if stored := earlier(
        RecallContact, key, notice_id=notice.pk, rider_id=rider.pk, told_for_id=told_for.pk, way=way
    ):
        return stored
    check_past("told_at", told_at, at=at)
    return store(
        RecallContact(
            id=key or uuid.uuid4(),
            notice=notice,
            rider=rider,
            told_for=told_for,
            way=way,
            told_at=told_at,
            recorded_by=author(by),
            recorded_at=at,
        )
    )


def _require_right(by: Actor, entered_for: Organisation | None) -> None:
    if entered_for is None:
        require_service(by)
    else:
        require(by, Right.RECALL, entered_for)


def _check_named(spec: TireSpec | None, line: TireLine | None, axle: str, plant: str) -> None:
    if (spec is None) == (line is None):
        raise Invalid(
            "A notice is about one spec or about a whole line: give exactly one of the two.", field="spec"
        )
    if spec is not None and axle:
        raise Invalid("A spec says its axle itself: leave the axle out, or name the line.", field="axle")
    if plant and not PLANT.fullmatch(plant):
        raise Invalid(
            "A plant is the first two or three symbols of the number, digits and letters without G, I, O, Q, S and Z: "
            "leave it empty where the notice names none.",
            field="plant",
        )


def _week(code: str, at: datetime, field: str) -> date:
    if not DATE_CODE.fullmatch(code):
        raise Invalid("A date code here is four digits, week and year, such as 0826.", field=field)
    return made_on(code, seen_on=at.date(), field=field)


def _make_known(notice: RecallNotice) -> None:
    touch_all(tires_touched(notice))
    wake(ASSESS, TELL_RECALLED)
