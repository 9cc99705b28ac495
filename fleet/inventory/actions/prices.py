"""Writes of what a vendor asks for a tire."""

from decimal import Decimal

from django.db import transaction

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, Right, require
from fleet.accounts.trail import correct, kept_by, note_made
from fleet.catalogue.models import TireSpec
from fleet.errors import Invalid
from fleet.inventory.models import Listing
from fleet.records import store


@transaction.atomic
def list_spec(*, by: Actor, vendor: Organisation, spec: TireSpec, price: Decimal, low_at: int = 0) -> Listing:
    """Set what a vendor asks for one tire of a spec, and from how few left on it is low; earlier sales keep theirs."""
    require(by, Right.MANAGE_STOCK, vendor)
    if not vendor.is_vendor:
        raise Invalid("Prices are set by a vendor; this organisation is an organiser only.", field="vendor")
    listed = Listing.objects.filter(vendor=vendor, spec=spec).first()
    if listed is None:
        made = store(Listing(vendor=vendor, spec=spec, price=price, low_at=low_at))
        return note_made(made, by=by, **kept_by(vendor))
    return correct(listed, {"price": price, "low_at": low_at}, by=by, **kept_by(vendor))
