"""The drafting job."""

from celery import shared_task
from django.utils import timezone

from fleet.pressures.guidance import draft
from fleet.pressures.queries import days_wanting_draft


@shared_task
def draft_changed() -> int:
    """Draft guidance for today's and tomorrow's days whose facts changed; the number of days is returned."""
    at = timezone.now()
    return sum(draft(day, at=at) is not None for day in days_wanting_draft(at=at))
