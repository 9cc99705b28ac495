"""The jobs that tell riders about recalls and let late reservations go; they look at the rows for what there is to do."""

from celery import shared_task
from django.utils import timezone

from fleet.inventory import reserved, telling


@shared_task
def tell_recalled() -> int:
    """Tell the owners of recalled tires who were not told yet; the number of tires is returned."""
    return telling.tell_recalled(at=timezone.now())


@shared_task
def expire_reservations() -> int:
    """Let go the reservations nobody came for; their number is returned."""
    return reserved.expire_reservations(at=timezone.now())
