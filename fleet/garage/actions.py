"""Writes about riders, bikes, wheel pairs and instruments."""

from datetime import date, datetime

from django.db import transaction

from fleet.accounts.models import Organisation, Person
from fleet.accounts.policy import Actor, Right, Service, require
from fleet.garage.models import Bike, Instrument, Rider, Sharing, WheelPair
from fleet.garage.queries import owns, require_owner
from fleet.records import save_changes, store


def register_rider(
    *,
    by: Actor,
    code: str,
    name: str,
    contact: str = "",
    registered_with: Organisation | None = None,
    person: Person | None = None,
) -> Rider:
    """Store a rider: somebody's own record, or a walk-in by a vendor's crew."""
    if not isinstance(by, Service) and person != by:
        require(by, Right.FIT, registered_with)
        person = None
    return store(Rider(code=code, name=name, contact=contact, registered_with=registered_with, person=person))


def add_bike(
    *,
    by: Actor,
    rider: Rider,
    code: str,
    description: str,
    wheelbase_mm: float | None = None,
    rake_deg: float | None = None,
    fork_offset_mm: float | None = None,
    front_rim_in: float | None = None,
    rear_rim_in: float | None = None,
) -> Bike:
    """Store a bike of a rider."""
    _require_owner_or_crew(by, rider)
    return store(
        Bike(
            rider=rider,
            code=code,
            description=description,
            wheelbase_mm=wheelbase_mm,
            rake_deg=rake_deg,
            fork_offset_mm=fork_offset_mm,
            front_rim_in=front_rim_in,
            rear_rim_in=rear_rim_in,
        )
    )


@transaction.atomic
def add_wheel_pair(*, by: Actor, bike: Bike, code: str, name: str, is_in_use: bool = True) -> WheelPair:
    """Store a wheel pair; one put in use puts the bike's other pair aside."""
    _require_owner_or_crew(by, bike.rider)
    if is_in_use:
        bike.wheel_pairs.filter(is_in_use=True).update(is_in_use=False)
    return store(WheelPair(bike=bike, code=code, name=name, is_in_use=is_in_use))


@transaction.atomic
def use_wheel_pair(*, by: Actor, wheel_pair: WheelPair) -> WheelPair:
    """Put a wheel pair on its bike and the bike's other pair aside."""
    require_owner(by, wheel_pair.bike.rider)
    WheelPair.objects.filter(bike=wheel_pair.bike, is_in_use=True).update(is_in_use=False)
    wheel_pair.is_in_use = True
    return save_changes(wheel_pair, "is_in_use")


def add_instrument(
    *,
    by: Actor,
    code: str,
    name: str,
    kind: str,
    rider: Rider | None = None,
    organisation: Organisation | None = None,
    step_kpa: float | None = None,
    offset_kpa: float = 0.0,
    compared_on: date | None = None,
) -> Instrument:
    """Store a gauge of a rider or of an organisation, with how far it reads off."""
    if rider is not None:
        require_owner(by, rider)
    else:
        require(by, Right.TAKE_READINGS, organisation)
    return store(
        Instrument(
            code=code,
            name=name,
            kind=kind,
            rider=rider,
            organisation=organisation,
            step_kpa=step_kpa,
            offset_kpa=offset_kpa,
            compared_on=compared_on,
        )
    )


def share(*, by: Actor, rider: Rider, organisation: Organisation, scope: str, at: datetime) -> Sharing:
    """Let an organisation see something of a rider's."""
    require_owner(by, rider)
    return store(Sharing(rider=rider, organisation=organisation, scope=scope, granted_at=at))


def take_back(*, by: Actor, sharing: Sharing, at: datetime) -> Sharing:
    """End a permission at once; one taken back before keeps its first moment."""
    require_owner(by, sharing.rider)
    Sharing.objects.filter(pk=sharing.pk, withdrawn_at__isnull=True).update(withdrawn_at=at)
    sharing.refresh_from_db()
    return sharing


def _require_owner_or_crew(by: Actor, rider: Rider) -> None:
    if not owns(by, rider):
        require(by, Right.FIT, rider.registered_with)
