"""What every stored row shares: unguessable identity, and for facts who wrote them, when, and how they are voided."""

import math
import uuid
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from functools import wraps
from operator import attrgetter
from typing import Any, ParamSpec, Self, TypeVar

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction

from fleet.errors import AlreadyVoided, Conflict, InTheFuture, Invalid, KeyReused
from fleet.guards import refusal_for

CLOCK_SLACK = timedelta(minutes=5)


class Noun(models.Model):
    """A thing with a name and an identity nobody can guess."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)

    class Meta:
        abstract = True


class FactQuerySet(models.QuerySet[Any]):
    """Facts, with the voided ones told apart."""

    def standing(self) -> Self:
        """Return the facts that were not voided."""
        return self.filter(voided_at__isnull=True)


class Fact(models.Model):
    """Something that happened, written once; its id is the key the client chose, so sending it twice stores it once."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    recorded_at = models.DateTimeField()
    voided_at = models.DateTimeField(null=True, blank=True)
    voided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    void_reason = models.CharField(max_length=300, blank=True)
    replaces = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="replacements")

    objects = FactQuerySet.as_manager()

    class Meta:
        abstract = True
        constraints = [
            models.CheckConstraint(
                condition=models.Q(voided_at__isnull=True, void_reason="")
                | (models.Q(voided_at__isnull=False) & ~models.Q(void_reason="")),
                name="%(app_label)s_%(class)s_void_has_reason",
            )
        ]


M = TypeVar("M", bound=models.Model)
P = ParamSpec("P")
R = TypeVar("R")


def once(action: Callable[P, R]) -> Callable[P, R]:
    """Return an action that answers with the stored fact even to a request racing with its own twin.

    Of two requests with one key at the same moment the later one runs into what the first has just stored; asked again
    it finds the fact by its key (``earlier``). A refusal for any other reason is simply given twice, the second counts.
    """

    @wraps(action)
    def run(*args: P.args, **kwargs: P.kwargs) -> R:
        try:
            return action(*args, **kwargs)
        except (Conflict, Invalid):
            if kwargs.get("key") is None:
                raise
        return action(*args, **kwargs)

    return run


def check_past(field: str, happened_at: datetime, *, at: datetime) -> None:
    """Refuse a moment that lies after the one it is recorded at, five minutes of clock error allowed."""
    if happened_at > at + CLOCK_SLACK:
        raise InTheFuture(
            f"{happened_at:%Y-%m-%d %H:%M %Z} has not come yet: give a time up to now ({at:%Y-%m-%d %H:%M %Z}).",
            field=field,
        )


def earlier(model: type[M], key: uuid.UUID | None, **content: Any) -> M | None:
    """Return the row already stored under this key, or nothing; another content under it is refused.

    The content is named by attributes, those of related rows with two underscores: ``lot__vendor_id``. What differs is
    said of a fact about the same rows only: by another's key its figures could be guessed one by one.
    """
    # Nearly always nothing is stored, and asking that first costs a third of asking for the whole row.
    stored: M | None = None
    rows: models.Manager[M] = model._base_manager  # noqa: SLF001 -- Django documents it
    if key is not None and rows.filter(pk=key).exists():
        stored = rows.filter(pk=key).first()
    if stored is None:
        return None
    if differing := [
        name for name, value in content.items() if attrgetter(name.replace("__", "."))(stored) != value
    ]:
        is_another = any(name.endswith("_id") for name in differing)
        said = "" if is_another else f" ({', '.join(sorted(differing))} differ)"
        raise KeyReused(
            f"The key {key} was used before for another entry{said}: send a new entry with a new key."
        )
    return stored


def store(row: M, *, exclude: Iterable[str] = ()) -> M:
    """Insert a checked row; what the database itself refuses is said as the matching refusal."""
    _refuse_values(row, exclude)
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError as error:
        raise _broken_rule(row) or refusal_for(error) from error
    return row


def save_changes(row: M, *fields: str) -> M:
    """Update the named fields of a checked row; what the database refuses is said as the matching refusal."""
    _refuse_values(row)
    try:
        with transaction.atomic():
            row.save(update_fields=fields)
    except IntegrityError as error:
        raise _broken_rule(row) or refusal_for(error) from error
    return row


def _refuse_values(row: models.Model, exclude: Iterable[str] = ()) -> None:
    """Refuse a row with a value its field does not take; rows it points to that are at hand need no look-up."""
    for name, value in vars(row).items():
        if isinstance(value, float) and not math.isfinite(value):
            raise Invalid(f"{value} is no measurement: give a number, or leave it out.", field=name)
    at_hand = {name for name, one in row._state.fields_cache.items() if one}  # noqa: SLF001 -- Django documents it
    try:
        row.clean_fields(exclude={*exclude, *at_hand})
        row.clean()
    except ValidationError as error:
        raise _as_refusal(error) from error


def _broken_rule(row: models.Model) -> Invalid | None:
    """Return in the model's own words which rule the database refused a row by, where the model knows it.

    Asked only once the database refused: it holds all rules anyway, and asking it first about each costs as much again.
    """
    try:
        row.validate_unique()
        row.validate_constraints()
    except ValidationError as error:
        return _as_refusal(error)
    return None


def _as_refusal(error: ValidationError) -> Invalid:
    by_field = error.message_dict if hasattr(error, "error_dict") else {"__all__": error.messages}
    field, sentences = next(iter(by_field.items()))
    return Invalid(" ".join(sentences), field="" if field == "__all__" else field)


def void(fact: Fact, *, by: Any, at: datetime, reason: str) -> None:
    """Mark a fact as wrong, keeping it; a second time is refused, and so is a missing reason."""
    if not reason.strip():
        raise Invalid("A fact is voided with a reason: say in a few words what was wrong.", field="reason")
    standing = type(fact).objects.filter(pk=fact.pk, voided_at__isnull=True)
    try:
        with transaction.atomic():
            count = standing.update(voided_at=at, voided_by=by, void_reason=reason.strip())
    except IntegrityError as error:
        raise refusal_for(error) from error
    if not count:
        raise AlreadyVoided("This entry was voided before; nothing was changed.")
    fact.refresh_from_db()
