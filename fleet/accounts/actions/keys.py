"""API keys: made and shown once, used, revoked."""

import re
import secrets
import uuid
from collections.abc import Iterable
from datetime import datetime
from typing import Final

from django.db import transaction
from django.db.models import Q

from fleet.accounts.digests import digest_of
from fleet.accounts.errors import KeyShownBefore, TooManyKeys
from fleet.accounts.models import ApiKey, Membership, Organisation, Person, Role, Scope, What
from fleet.accounts.policy import Right, require, roles_for_keys
from fleet.accounts.queries import is_program, keys_for, standing_key
from fleet.accounts.trail import Owners, kept_by, note, note_made
from fleet.errors import Invalid, NotAllowed, NotFound
from fleet.records import store

# The mark lets a secret be recognised where it should not stand; 5 bytes find the row, 32 are the secret.
_TOKEN: Final = re.compile(r"fleet_([0-9a-f]{10})_[A-Za-z0-9_-]{43}", re.ASCII)
_NO_DIGEST: Final = "-" * 64
MOST_KEYS: Final = 20
"""Keys in use at once, of one person or of one organisation: a leaked one among hundreds is not noticed."""


def make_key(
    *,
    by: Person,
    at: datetime,
    name: str,
    scopes: Iterable[str],
    expires_at: datetime | None = None,
    key: uuid.UUID | None = None,
) -> tuple[ApiKey, str]:
    """Make a key with which a program acts as the person, and return it with its secret, which is not stored."""
    _refuse_programs(by)
    _refuse_shown(key)
    row = ApiKey(person=by, name=name.strip(), made_by=by, made_at=at, expires_at=expires_at)
    with transaction.atomic():
        return _issue(row, scopes, key)


def make_organisation_key(
    *,
    by: Person,
    at: datetime,
    organisation: Organisation,
    role: str,
    name: str,
    scopes: Iterable[str],
    expires_at: datetime | None = None,
    key: uuid.UUID | None = None,
) -> tuple[ApiKey, str]:
    """Make a key with which a program acts for an organisation, and return it with its secret.

    It gets an account of its own, with that one role, nobody's tires and no way to sign in: what it writes carries its
    name, and nothing its maker owns is open to it.
    """
    _refuse_programs(by)
    require(by, Right.MANAGE_KEYS, organisation)
    if role not in roles_for_keys(by, organisation):
        raise NotAllowed(
            f"A key never opens more than its maker may: your roles at {organisation.name} do not include all that "
            "this one opens. Choose one of yours."
        )
    _refuse_shown(key)
    prefix = secrets.token_hex(5)
    with transaction.atomic():
        account = Person(email=f"key-{prefix}@keys.invalid", name=name.strip())
        account.set_unusable_password()
        store(account)
        given = store(Membership(person=account, organisation=organisation, role=Role(role)))
        note_made(given, "person", "role", by=by, what=What.GRANTED, **kept_by(organisation))
        row = ApiKey(
            person=account,
            organisation=organisation,
            name=name.strip(),
            made_by=by,
            made_at=at,
            expires_at=expires_at,
            prefix=prefix,
        )
        return _issue(row, scopes, key)


def revoke_key(*, by: Person, at: datetime, api_key: ApiKey) -> ApiKey:
    """End a key at once and for good; one that was revoked before stays as it is."""
    if not keys_for(by).filter(pk=api_key.pk).exists():
        raise NotFound("There is no such key here for you: look at the list of your keys.")
    with transaction.atomic():
        standing = ApiKey.objects.filter(pk=api_key.pk, revoked_at__isnull=True)
        if standing.update(revoked_at=at, revoked_by=by):
            if api_key.organisation_id:
                Person.objects.filter(pk=api_key.person_id).update(is_active=False)
            note(api_key, What.REVOKED, by=by, **_owners(api_key))
    api_key.refresh_from_db()
    return api_key


def use_key(*, token: str, at: datetime) -> ApiKey | None:
    """Return the key a program presents and note the day; nothing where it does not work, whatever the reason."""
    match = _TOKEN.fullmatch(token)
    if match is None:
        return None
    found = standing_key(match[1], at=at)
    is_right = secrets.compare_digest(found.digest if found else _NO_DIGEST, digest_of(token))
    if found is None or not is_right or not _is_covered(found):
        return None
    today = at.date()
    if found.last_used_on != today:
        ApiKey.objects.filter(pk=found.pk).update(last_used_on=today)
    return found


def _issue(row: ApiKey, scopes: Iterable[str], key: uuid.UUID | None) -> tuple[ApiKey, str]:
    """Store a key under a secret of 256 random bits, which no list of likely secrets shortens."""
    _refuse_another(row)
    row.id = key or uuid.uuid4()
    row.scopes = _known(scopes)
    row.prefix = row.prefix or secrets.token_hex(5)
    token = f"fleet_{row.prefix}_{secrets.token_urlsafe(32)}"
    row.digest = digest_of(token)
    if row.expires_at and row.expires_at <= row.made_at:
        raise Invalid("This moment has passed: give a later one, or none.", field="expires_at")
    store(row)
    note_made(row, "name", "scopes", "expires_at", "person", by=row.made_by, **_owners(row))
    return row, token


def _owners(api_key: ApiKey) -> Owners:
    """Return whom a key concerns: its organisation, or the person it acts as."""
    if api_key.organisation is None:
        return {"person": api_key.person}
    return kept_by(api_key.organisation)


def _refuse_another(row: ApiKey) -> None:
    whose = {"organisation": row.organisation} if row.organisation else {"person": row.person}
    in_use = ApiKey.objects.filter(
        Q(expires_at__isnull=True) | Q(expires_at__gt=row.made_at), revoked_at__isnull=True, **whose
    )
    if in_use.count() >= MOST_KEYS:
        raise TooManyKeys(
            f"{MOST_KEYS} keys are in use: revoke one that no program needs any more, then make this one."
        )


def _known(scopes: Iterable[str]) -> list[str]:
    chosen = set(scopes)
    if not chosen:
        raise Invalid("A key without a scope opens nothing: choose at least one.", field="scopes")
    if unknown := sorted(chosen - set(Scope.values)):
        raise Invalid(
            f"{', '.join(unknown)} is no scope: use some of {', '.join(Scope.values)}.", field="scopes"
        )
    return [scope for scope in Scope.values if scope in chosen]


def _is_covered(api_key: ApiKey) -> bool:
    """Return whether an organisation's key still opens no more than its maker may."""
    if api_key.organisation is None:
        return True
    given = set(api_key.person.memberships.values_list("role", flat=True))
    return bool(given) and given <= set(roles_for_keys(api_key.made_by, api_key.organisation))


def _refuse_programs(by: Person) -> None:
    if is_program(by):
        raise NotAllowed("Keys are made by people: sign in on the pages.")


def _refuse_shown(key: uuid.UUID | None) -> None:
    if key is not None and ApiKey.objects.filter(pk=key).exists():
        raise KeyShownBefore(
            "This key was made and shown a moment ago, and is not shown again: if it was not copied, revoke it and "
            "make another."
        )
