"""Who may write about a rider's running."""

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, Right, require
from fleet.garage.models import Rider
from fleet.garage.queries import owns
from fleet.inventory.queries import serves


def require_rider_or_trailer(by: Actor, rider: Rider, vendor: Organisation | None = None) -> None:
    """Refuse anybody but the rider and the crew of a vendor that serves the rider."""
    if owns(by, rider):
        return
    require(by, Right.TAKE_READINGS, vendor)
    if vendor is None or not serves(vendor, rider):
        require(by, Right.TAKE_READINGS, None)
