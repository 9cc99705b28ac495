"""The revision of a row that results are computed from: raised with every fact about it, so that the jobs find it."""

import uuid
from collections import defaultdict
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from itertools import islice
from typing import Any, Final

from django.db import models
from django.db.models import F

AT_A_TIME: Final = 500
_held: ContextVar[dict[type[models.Model], set[uuid.UUID]] | None] = ContextVar("held", default=None)


def raise_revision(model: type[models.Model], rows: Iterable[uuid.UUID]) -> None:
    """Raise the revision of rows, in the transaction that writes what changed about them."""
    held = _held.get()
    if held is not None:
        held[model].update(rows)
        return
    manager: models.Manager[Any] = model._default_manager  # noqa: SLF001 -- Django documents it
    waiting = iter(rows)
    while some := list(islice(waiting, AT_A_TIME)):
        manager.filter(pk__in=some).update(revision=F("revision") + 1)


@contextmanager
def raised_together() -> Iterator[None]:
    """Raise each revision once at the end of a block instead of once a fact; the block lies within a transaction."""
    held: dict[type[models.Model], set[uuid.UUID]] = defaultdict(set)
    token = _held.set(held)
    try:
        yield
    finally:
        _held.reset(token)
    for model, rows in held.items():
        raise_revision(model, sorted(rows))
