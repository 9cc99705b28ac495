"""Writes of replies: claim a key, keep the answer with the effect, give a key up.

A claim is committed before the effect, so that a twin sees it and is told to wait; the answer is kept in the effect's own
transaction, and only by whoever still holds the claim. Of two that hold a key one after the other, one has an effect.
"""

from datetime import datetime, timedelta
from typing import Final

from fleet.accounts.models import Person
from fleet.replies.errors import KeyInProgress, KeyOfAnotherRequest
from fleet.replies.models import Reply

LEASE: Final = timedelta(minutes=2)
"""After this time without an answer the first request is taken for lost."""


def claim_key(*, by: Person, at: datetime, key: str, request_digest: str) -> Reply:
    """Return the reply of a key: the caller's to carry out, or with the answer that was given (``answered_at``)."""
    mine, stored = _claimed(by, at, key, request_digest)
    if stored.pk == mine.pk:
        return stored
    if stored.request_digest != request_digest:
        raise KeyOfAnotherRequest(
            "This idempotency key was used for another request: repeat that request as it was, or choose a new key.",
            field="Idempotency-Key",
        )
    if stored.answered_at is not None:
        return stored
    if stored.claimed_at <= at - LEASE:
        Reply.objects.filter(pk=stored.pk, answered_at__isnull=True).delete()
        mine, stored = _claimed(by, at, key, request_digest)
        if stored.pk == mine.pk:
            return stored
    raise _in_progress()


def keep_answer(
    *, by: Person, at: datetime, reply: Reply, status: int, headers: dict[str, str], body: str
) -> None:
    """Store the answer beside its effect; when the claim was taken over, refuse, so that the effect is undone."""
    kept = Reply.objects.filter(pk=reply.pk, person=by, answered_at__isnull=True).update(
        answered_at=at, status=status, headers=headers, body=body
    )
    if not kept:
        raise _in_progress()


def release_key(*, by: Person, reply: Reply) -> None:
    """Give up a claim without an answer: the key is as if it had never been sent."""
    Reply.objects.filter(pk=reply.pk, person=by, answered_at__isnull=True).delete()


def _claimed(by: Person, at: datetime, key: str, request_digest: str) -> tuple[Reply, Reply]:
    """Return the claim just tried and the one that stands."""
    mine = Reply(person=by, key=key, request_digest=request_digest, claimed_at=at)
    Reply.objects.bulk_create([mine], ignore_conflicts=True)
    stored = Reply.objects.filter(person=by, key=key).first()
    if stored is None:
        raise _in_progress()
    return mine, stored


def _in_progress() -> KeyInProgress:
    return KeyInProgress(
        "The first request with this idempotency key is still being carried out: send it again in a moment.",
        field="Idempotency-Key",
    )
