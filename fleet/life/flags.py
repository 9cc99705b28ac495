"""Raising and clearing of flags: once for each state a fitted tire reaches, cleared when it is no longer so."""

from collections.abc import Sequence
from datetime import datetime
from typing import Final

from fleet.life.histories import History
from fleet.life.models import Assessment, Flag, State
from fleet.notices.actions import tell

FLAGGED: Final = {State.PLAN_A_CHANGE, State.LAST_DAY, State.STAND_DOWN}


def settle_flags(found: Sequence[tuple[History, Assessment]], *, at: datetime) -> None:
    """Bring the flags of assessed tires in line, inside the caller's transaction, and tell owners of tires that stand down."""
    standing = {
        flag.tire_id: flag
        for flag in Flag.objects.filter(tire__in=[row.tire_id for _, row in found], cleared_at__isnull=True)
    }
    raised = []
    for history, row in found:
        flag = standing.get(row.tire_id)
        wanted = history.is_fitted and row.state in FLAGGED
        if flag is not None and (not wanted or flag.state != row.state):
            because = f"assessed as {row.state}" if history.is_fitted else "removed from the wheel"
            Flag.objects.filter(pk=flag.pk, cleared_at__isnull=True).update(
                cleared_at=at, cleared_because=because
            )
            flag = None
        if wanted and flag is None:
            raised.append(
                (
                    history,
                    Flag(tire=history.tire, state=row.state, binding_limit=row.binding_limit, raised_at=at),
                )
            )
    Flag.objects.bulk_create([flag for _, flag in raised])
    for history, flag in raised:
        person = history.tire.owner.person
        # Of a recall its own message tells, with what to do; of what is near its end, the one about the next event.
        if person is not None and flag.state == State.STAND_DOWN and not history.is_recalled:
            tell(
                [person],
                topic="stand down",
                about=str(flag.pk),
                sentence=f"{history.tire.spec.get_axle_display()} tire {history.tire.label_code}: {flag.state}, "
                f"limit: {flag.binding_limit}.",
                at=at,
            )
