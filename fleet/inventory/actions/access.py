"""Who may write about a rider's tires."""

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, Right, Service, require
from fleet.garage.models import Rider
from fleet.garage.queries import require_owner
from fleet.inventory.queries import serves


def require_rider_or_crew(by: Actor, rider: Rider, vendor: Organisation | None) -> None:
    """Refuse anybody but the rider, or, in a vendor's name, the crew of that vendor when it serves the rider."""
    if isinstance(by, Service):
        return
    if vendor is None:
        require_owner(by, rider)
    else:
        require_serving_crew(by, rider, vendor)


def require_serving_crew(by: Actor, rider: Rider, vendor: Organisation) -> None:
    """Refuse anybody but the crew of a vendor that serves the rider: knowing a wheel pair's id opens nothing."""
    require(by, Right.FIT, vendor)
    if not isinstance(by, Service) and not serves(vendor, rider):
        require(by, Right.FIT, None)
