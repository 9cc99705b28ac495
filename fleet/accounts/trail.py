"""The trail: actions note here what they change, in the transaction that changes it, so that the owner can read it later.

Facts need no line: each carries who wrote it and who voided it. A row's owners are said with it: the rider, the person, the
organisation; ``on_behalf_of`` is the organisation whose role the right rests on, nothing where somebody acts for themselves.
"""

import uuid
from collections.abc import Mapping
from typing import Any, Final, TypedDict, TypeVar, Unpack

from django.db import models

from fleet.accounts.models import Change, Organisation, Person, What
from fleet.accounts.policy import Actor, author
from fleet.errors import Invalid, KeyReused
from fleet.records import save_changes

M = TypeVar("M", bound=models.Model)
UNSAID: Final = frozenset({"id", "digest", "prefix", "password", "public_code", "revision"})
"""What no line repeats: secrets, what stands in the line anyway, and what is counted."""


class Owners(TypedDict, total=False):
    """Whom a change concerns, and for whom it was made."""

    rider: uuid.UUID | None
    person: Person | None
    organisation: Organisation | None
    on_behalf_of: Organisation | None


def kept_by(organisation: Organisation | None, *, rider: uuid.UUID | None = None) -> Owners:
    """Return the owners of a change made by an organisation's people for it, and about a rider where there is one."""
    return {"rider": rider, "organisation": organisation, "on_behalf_of": organisation}


def noun_of(model: type[models.Model]) -> str:
    """Return a model's name as the trail writes it."""
    return str(model._meta.verbose_name).replace(" ", "_")  # noqa: SLF001 -- Django documents it


def values_of(row: models.Model, *names: str) -> dict[str, Any]:
    """Return the named columns of a row as the trail shows them, or all that say something."""
    columns = {field.name: field.attname for field in row._meta.concrete_fields}  # noqa: SLF001 -- Django documents it
    if names:
        return {name: getattr(row, columns[name]) for name in names}
    found = {name: getattr(row, columns[name]) for name in columns if name not in UNSAID}
    return {name: value for name, value in found.items() if value not in (None, "")}


def note_made(row: M, *names: str, by: Actor, what: str = What.MADE, **owners: Unpack[Owners]) -> M:
    """Note that a row was made, with the columns named or all that say something, and return the row."""
    note(row, what, by=by, after=values_of(row, *names), **owners)
    return row


def note(
    row: models.Model,
    what: str,
    *,
    by: Actor,
    before: Mapping[str, Any] | None = None,
    after: Mapping[str, Any] | None = None,
    key: uuid.UUID | None = None,
    **owners: Unpack[Owners],
) -> None:
    """Note what was done to a row; without ``before`` and ``after`` the word says it all.

    ``key`` is the client's key of a change that may be sent twice: the line's own id, found again by ``noted``.
    """
    person = author(by)
    used = person.used_key if person else None
    behalf = used.organisation if used and used.organisation_id else owners.get("on_behalf_of")
    Change.objects.create(
        id=key or uuid.uuid4(),
        by=person,
        api_key=used,
        on_behalf_of=behalf if person else None,
        what=what,
        noun=noun_of(row._meta.model),  # noqa: SLF001 -- Django documents it
        row=row.pk,
        before=dict(before or {}),
        after=dict(after or {}),
        rider=owners.get("rider"),
        person=owners.get("person"),
        organisation=owners.get("organisation"),
    )


def noted(row: models.Model, what: str, key: uuid.UUID | None, after: Mapping[str, Any]) -> bool:
    """Return whether this very change was made under this key before; a key used for something else is refused."""
    line = Change.objects.filter(pk=key).first() if key is not None else None
    if line is None:
        return False
    if (line.row, line.what, line.after) != (row.pk, what, dict(after)):
        raise KeyReused(f"The key {key} was used before for another entry: send a new entry with a new key.")
    return True


def correct(row: M, given: Mapping[str, Any], *, by: Actor, **owners: Unpack[Owners]) -> M:
    """Write other values into a row's columns and note those that differ; the same values again change nothing."""
    if not given:
        raise Invalid("Nothing to correct was given: send at least one value.")
    manager: models.Manager[Any] = row._meta.model._base_manager  # noqa: SLF001 -- Django documents it
    held = manager.select_for_update(no_key=True)
    row.refresh_from_db(fields=[*given], from_queryset=held)
    before = values_of(row, *given)
    for name, value in given.items():
        setattr(row, name, value)
    after = values_of(row, *given)
    changed = [name for name in given if before[name] != after[name]]
    if changed:
        save_changes(row, *changed)
        note(
            row,
            What.CORRECTED,
            by=by,
            before={name: before[name] for name in changed},
            after={name: after[name] for name in changed},
            **owners,
        )
    return row
