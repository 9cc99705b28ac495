"""Who may write about a rider's tires."""

from datetime import date

from fleet.accounts.models import Organisation
from fleet.accounts.policy import SHARED_AFTER_EVENT, Actor, Right, Service, may, require
from fleet.errors import NotFound
from fleet.garage.models import Rider
from fleet.garage.queries import require_owner
from fleet.inventory.models import Tire
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


def require_holder(by: Actor, organisation: Organisation) -> None:
    """Refuse anybody who may not stop tires in an organisation's name."""
    if not may(by, Right.FIT, organisation):
        require(by, Right.HOLD, organisation)


def require_to_hold(by: Actor, tire: Tire, organisation: Organisation, *, on: date) -> None:
    """Refuse a tire that is neither a customer's nor an entrant's: nobody stops a stranger's bike."""
    if isinstance(by, Service):
        return
    is_customers = serves(organisation, tire.owner) or (tire.lot and tire.lot.vendor_id == organisation.pk)
    if may(by, Right.FIT, organisation) and is_customers:
        return
    # Entries belong to a subject above this one: the relation is followed by its name, nothing is imported.
    entered = Rider.objects.filter(
        pk=tire.owner_id,
        entries__day__event__organiser=organisation,
        entries__day__date__gte=on - SHARED_AFTER_EVENT,
    )
    if not (may(by, Right.HOLD, organisation) and entered.exists()):
        raise NotFound("There is no such tire for you: holds are for customers' and entrants' tires.")
