"""Forgetting answers that no client asks for again."""

from datetime import datetime, timedelta
from typing import Final

from fleet.replies.models import Reply

KEPT: Final = timedelta(hours=48)


def sweep_replies(*, at: datetime) -> int:
    """Delete what was kept long enough; the number of replies is returned."""
    return Reply.objects.filter(claimed_at__lt=at - KEPT).delete()[0]
