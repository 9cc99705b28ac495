"""The job that forgets old answers."""

from celery import shared_task
from django.utils import timezone

from fleet.replies import sweeping


@shared_task
def sweep_replies() -> int:
    """Delete the answers kept for two days; their number is returned."""
    return sweeping.sweep_replies(at=timezone.now())
