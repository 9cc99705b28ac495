"""The jobs that forget lists that were looked at and left, and that read forecasts from where the settings say."""

from celery import shared_task
from django.conf import settings
from django.utils import timezone

from fleet.exchange.deliveries import KEPT
from fleet.exchange.forecasts import FileOrAddress, read_forecasts
from fleet.exchange.models import Upload
from fleet.pressures.queries import days_near


@shared_task
def sweep_uploads() -> int:
    """Delete the lists sent a day ago or earlier; their number is returned."""
    deleted, _ = Upload.objects.filter(made_at__lt=timezone.now() - KEPT).delete()
    return deleted


@shared_task
def read_weather() -> int:
    """Read the forecasts of today's and tomorrow's days, where a source is set; the number of new rows is returned."""
    if not settings.FORECAST_SOURCE:
        return 0
    at = timezone.now()
    return read_forecasts(FileOrAddress(settings.FORECAST_SOURCE), days_near(at=at), at=at)
