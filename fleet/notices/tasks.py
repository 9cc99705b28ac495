"""The job that sends e-mails; it looks at the rows for what waits."""

from celery import shared_task
from django.utils import timezone

from fleet.notices import mailing


@shared_task
def send_mails() -> int:
    """Send the notices people want by e-mail; the number sent is returned."""
    return mailing.send_mails(at=timezone.now())
