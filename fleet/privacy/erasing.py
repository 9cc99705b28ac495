"""The parts of an erasure, each within its one transaction."""

import json
import re
import secrets
import uuid
from collections.abc import Callable, Iterable
from datetime import datetime
from functools import partial
from typing import Any, Final

from allauth.account.models import EmailAddress
from django.db import models
from django.db.models import Q, QuerySet, TextField
from django.db.models.functions import Cast

from fleet.accounts.models import Change, Organisation, Person, What
from fleet.accounts.policy import Actor
from fleet.accounts.trail import note
from fleet.events.models import Entry, Event, Track
from fleet.events.queries import coming_entries
from fleet.events.revisions import touch_days
from fleet.garage.actions import take_back
from fleet.garage.models import Bike, Instrument, Rider, WheelPair
from fleet.garage.queries import sharings_of
from fleet.guards import unguarded
from fleet.inventory.actions import withdraw_offer
from fleet.inventory.availability import open_reservations
from fleet.inventory.ownership import theirs_then
from fleet.inventory.reservation import Reservation
from fleet.inventory.reserved import close_reservation
from fleet.life.models import LearnedModel
from fleet.photos.actions import forget_photos
from fleet.pressures.content import digest_of
from fleet.pressures.models import Bulletin
from fleet.pressures.told import parts_of
from fleet.privacy.holder import Holder
from fleet.privacy.words import CHASSIS, GONE, MARK, OWN, PHOTOS, SEARCHED, TOLD, Own
from fleet.replies.models import Reply

AT_A_TIME: Final = 500
NUMBER_CHARACTERS: Final = 6
FIXED: Final = frozenset({"state", "role", "scope", "kind"})
"""Columns of the trail that hold one word of a fixed list."""
ID: Final = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
NAMING: Final = r"[a-z_]*(?:code|name|contact|description|rider|bike|wheel_pair)[a-z_]*"
"""Keys under which an answer of the API names somebody or something of theirs."""


def codes_of(rider: Rider | None) -> dict[str, str]:
    """Return a rider's own codes with what takes the place of each."""
    found: dict[str, str] = {}
    for model, way in ((Rider, "pk"), (Bike, "rider"), (WheelPair, "bike__rider"), (Instrument, "rider")):
        rows: models.Manager[Any] = model.objects
        found |= (
            {row.code: _code_for(row) for row in rows.filter(**{way: rider.pk}).only("code")} if rider else {}
        )
    return found


def names_of(holder: Holder) -> list[str]:
    """Return the addresses and names, former ones too, that others may have written somewhere, the longest first.

    A name of one word, or one that a place or an organisation has too, is no mark of a person: whoever chose such a
    name could otherwise wipe words of others.
    """
    marks = set(EmailAddress.objects.filter(user__in=holder.people).values_list("email", flat=True))
    names: set[str] = set()
    for one in (one for one in (holder.person, holder.rider) if one):
        names.add(one.name)
        for line in Change.objects.filter(row=one.pk).values_list("before", "after"):
            names |= {str(values["name"]) for values in line if values.get("name")}
            marks |= {str(values["email"]) for values in line if values.get("email")}
    marks |= {holder.person.email} if holder.person else set()
    names = {name.strip() for name in names}
    marks |= {name for name in names if _is_of_a_person(name)}
    return sorted(marks, key=lambda mark: (-len(mark), mark))


def withdraw_coming_entries(rider: Rider, *, by: Actor, at: datetime) -> None:
    """Take a rider off the days that are not over, and their number off those that are."""
    coming = coming_entries([rider], at=at)
    for entry in coming:
        note(entry, What.WITHDRAWN, by=by, rider=rider.pk, organisation=entry.day.event.organiser)
    touch_days(*(entry.day_id for entry in coming))
    Entry.objects.filter(pk__in=[entry.pk for entry in coming]).delete()
    past = list(Entry.objects.filter(rider=rider))
    taken = set(Entry.objects.filter(day__in=[one.day_id for one in past]).values_list("day", "number"))
    for entry in past:
        while (entry.day_id, entry.number) in taken:
            entry.number = secrets.token_hex(NUMBER_CHARACTERS // 2)
        taken.add((entry.day_id, entry.number))
    Entry.objects.bulk_update(past, ["number"], batch_size=AT_A_TIME)


def end_sharings(rider: Rider, *, by: Actor, at: datetime) -> None:
    """Take back every permission a rider gave."""
    for sharing in sharings_of(rider):
        take_back(by=by, sharing=sharing, at=at)


def end_reservations(rider: Rider, *, by: Actor, at: datetime) -> None:
    """Let go the tires that are kept for a rider."""
    for reservation in open_reservations().filter(rider=rider):
        close_reservation(reservation, Reservation.End.WITHDRAWN, by=by, at=at)


def end_offers(rider: Rider, *, by: Actor, at: datetime) -> None:
    """Take back the links to tires a rider offered; what was handed over stays, with nobody's name."""
    for offer in rider.handovers_given.filter(handed_at=None, withdrawn_at=None, declined_at=None):
        withdraw_offer(by=by, at=at, offer=offer)


def take_words(rider: Rider) -> None:
    """Take every word of a rider's from the rows that stay, and the rows that say nothing about a tire."""
    for model, way in GONE.items():
        rows: QuerySet[Any] = model._base_manager.filter(**{way: rider.pk})  # noqa: SLF001 -- Django documents it
        if any(field.name == "replaces" for field in model._meta.fields):  # noqa: SLF001 -- Django documents it
            rows.update(replaces=None)
        rows.delete()
    for own in OWN:
        _take_words(own, rider)
    Bike.objects.filter(rider=rider).update(**dict.fromkeys(CHASSIS))
    Rider.objects.filter(pk=rider.pk).update(person=None, registered_with=None)


def take_photos(rider: Rider) -> None:
    """Delete the photos of a rider's facts; the facts stay."""
    for model, when in PHOTOS.items():
        rows: QuerySet[Any] = model._base_manager.filter(  # noqa: SLF001 -- Django documents it
            theirs_then(Rider.objects.filter(pk=rider.pk), when), photo__isnull=False
        )
        photos = dict(rows.values_list("pk", "photo"))
        model._base_manager.filter(pk__in=photos).update(photo=None)  # noqa: SLF001 -- Django documents it
        forget_photos(photos.values())


def rename_levels(codes: dict[str, str]) -> None:
    """Put the new codes in the place of the old ones in what was learned, whose figures stay."""
    for row in LearnedModel.objects.only("levels").iterator():
        riders = row.levels.get("rider", [])
        if any(code in codes for code in riders):
            row.levels["rider"] = [codes.get(code, code) for code in riders]
            row.save(update_fields=["levels"])


def forget_told(person: Person) -> None:
    """Delete what was said to a person."""
    for model in TOLD:
        model._base_manager.filter(person=person).delete()  # noqa: SLF001 -- Django documents it


def blank_trail(holder: Holder, *, offers: Iterable[uuid.UUID]) -> None:
    """Take the words from the trail of somebody's own changes; what was done, when and by whom stays."""
    person, rider = holder.person and holder.person.pk, holder.rider and holder.rider.pk
    own = Q(row__in=list(offers))
    own |= Q(rider=rider) if rider else Q()
    own |= Q(person=person) if person else Q()
    _rewrite(Change.objects.filter(own), blanked)


def search_words(marks: list[str]) -> None:
    """Take addresses and names out of the free words others wrote, wherever they are."""
    if not marks:
        return
    pattern = re.compile("|".join(rf"(?<!\w){re.escape(mark)}(?!\w)" for mark in marks), re.IGNORECASE)
    for model, fields in SEARCHED.items():
        for field in fields:
            _search(model, field, marks, pattern)
    _search_bulletins(marks, pattern)
    found = Q()
    for mark in marks:
        for told in {mark, json.dumps(mark)[1:-1]}:
            found |= Q(was__icontains=told) | Q(became__icontains=told)
    lines = Change.objects.annotate(was=Cast("before", TextField()), became=Cast("after", TextField()))
    _rewrite(lines.filter(found), partial(_searched, pattern=pattern))


def search_replies(tokens: Iterable[str]) -> None:
    """Take codes and names out of answers kept for others: for whoever registered or served the rider."""
    for token in {one for one in tokens if one}:
        value = re.compile(rf'("{NAMING}"\s*:\s*)"{re.escape(token)}"')
        for reply in Reply.objects.filter(body__contains=f'"{token}"').only("body").iterator():
            reply.body = value.sub(rf'\g<1>"{MARK}"', reply.body)
            reply.save(update_fields=["body"])


def blanked(value: Any) -> Any:
    """Return a value of the trail without words: figures, ids and fixed words for a state stay."""
    if isinstance(value, dict):
        return {name: one if name in FIXED else blanked(one) for name, one in value.items()}
    if isinstance(value, list):
        return [blanked(one) for one in value]
    return MARK if isinstance(value, str) and not ID.fullmatch(value) else value


def _searched(value: Any, *, pattern: re.Pattern[str]) -> Any:
    if isinstance(value, dict):
        return {name: _searched(one, pattern=pattern) for name, one in value.items()}
    if isinstance(value, list):
        return [_searched(one, pattern=pattern) for one in value]
    return pattern.sub(MARK, value) if isinstance(value, str) else value


def _rewrite(lines: QuerySet[Change], write: Callable[[Any], Any]) -> None:
    for line in lines.only("before", "after").iterator():
        line.before, line.after = write(line.before), write(line.after)
        line.save(update_fields=["before", "after"])


def _take_words(own: Own, rider: Rider) -> None:
    whose = Q(**{own.rider: rider.pk})
    if own.tire_held:
        whose = theirs_then(Rider.objects.filter(pk=rider.pk), own.tire_held)
    rows: QuerySet[Any] = own.model._base_manager.filter(whose)  # noqa: SLF001 -- Django documents it
    # An update across a join would be written as a subquery anyway, once for each field.
    ids = own.model._base_manager.filter(pk__in=rows.values("pk"))  # noqa: SLF001 -- Django documents it
    for name, value in own.words.items():
        empty: Any = [] if isinstance(value, list) else ""
        ids.exclude(**{name: empty}).update(**{name: value})
    if own.codes:
        found = list(rows)
        for row in found:
            row.code = _code_for(row)
        own.model._base_manager.bulk_update(found, own.codes, batch_size=AT_A_TIME)  # noqa: SLF001 -- documented


def _code_for(row: Any) -> str:
    return f"erased-{row.pk.hex}"


def _search(model: type[models.Model], field: str, marks: list[str], pattern: re.Pattern[str]) -> None:
    found = Q()
    for mark in marks:
        found |= Q(**{f"{field}__icontains": mark})
    longest = model._meta.get_field(field).max_length  # type: ignore[union-attr] # noqa: SLF001 -- documented
    for row in model._base_manager.filter(found).only(field).iterator():  # noqa: SLF001 -- documented
        setattr(row, field, pattern.sub(MARK, getattr(row, field))[:longest])
        row.save(update_fields=[field])


def _search_bulletins(marks: list[str], pattern: re.Pattern[str]) -> None:
    """Take names out of where a frozen bulletin says its weather came from; its figures, number and date stay."""
    rows = Bulletin.objects.filter(guidance__conditions__isnull=False).only("content", "digest")
    found = Q()
    for mark in marks:
        # SQLite gives a list inside a document back as it is stored, with other letters than ASCII escaped.
        for written in {mark, json.dumps(mark)[1:-1]}:
            found |= Q(content__conditions__source__icontains=mark) | Q(content__parts__icontains=written)
    with_names = list(rows.filter(found))
    if not with_names:
        return
    with unguarded("pressures_bulletin", "pressures_bulletin_frozen"):
        for row in with_names:
            for weather in (row.content["conditions"], *(part.conditions for part in parts_of(row.content))):
                weather["source"] = pattern.sub(MARK, weather["source"])
            row.digest = digest_of(row.content)
            row.save(update_fields=["content", "digest"])


def _is_of_a_person(name: str) -> bool:
    words = name.split()
    if len(words) < 2 or not (words[0][0].isupper() and words[-1][0].isupper()):  # noqa: PLR2004 -- first and last
        return False
    return not any(
        model.objects.filter(name__icontains=name).exists() for model in (Organisation, Event, Track)
    )
