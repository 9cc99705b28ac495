"""What stands in the way of doing something with a tire that is known: where it went, and whose it is by now."""

from datetime import datetime

from django.db.models import Max

from fleet.inventory.errors import BackInStock, HandedOver, Scrapped
from fleet.inventory.models import Fitting, Removal, StockMovement, Tire


def check_available(tire: Tire, fitted_at: datetime) -> None:
    """Refuse a tire that went back into its lot, or was scrapped before a moment."""
    sold = StockMovement.objects.filter(fitting__tire=tire, voided_at__isnull=True)
    if tire.lot_id is not None and not sold.exists():
        raise BackInStock(
            "This tire went back into stock when its fitting was voided: fit one from the lot.", field="tire"
        )
    scrapped = Removal.objects.filter(
        fitting__tire=tire,
        destination=Removal.Destination.SCRAPPED,
        removed_at__lte=fitted_at,
        voided_at__isnull=True,
    )
    if scrapped.exists():
        raise Scrapped(
            "This tire was removed to be scrapped and is not fitted again: void that removal if it was a mistake.",
            field="tire",
        )


def check_hands(tire: Tire, fitted_at: datetime) -> None:
    """Look up whose a tire is now that it is held still, and refuse a fitting from before it was its owner's."""
    last = Tire.objects.filter(pk=tire.pk).values_list("owner", Max("handovers__handed_at"))
    owner, handed_at = last.get()
    if owner != tire.owner_id:
        tire.refresh_from_db(fields=["owner"])
    if handed_at is not None and fitted_at < handed_at:
        raise HandedOver(
            f"This tire changed hands on {handed_at:%Y-%m-%d %H:%M %Z}: give a time after that.",
            field="fitted_at",
        )


def refuse_handed_over(fitting: Fitting) -> None:
    """Refuse to undo what was done to a tire that has another owner since."""
    owner = Tire.objects.filter(pk=fitting.tire_id).values_list("owner", flat=True).get()
    if owner != fitting.wheel_pair.bike.rider_id:
        raise HandedOver("This tire changed hands since: what was done to it before stays as it is.")
