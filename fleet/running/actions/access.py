"""Who may write about a rider's running."""

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, Right, Service, may, require
from fleet.errors import Invalid
from fleet.garage.models import Instrument, Rider
from fleet.garage.queries import opens_to, owns
from fleet.inventory.queries import serves
from fleet.running.errors import StintVoided
from fleet.running.models import Stint


def require_rider_or_trailer(by: Actor, rider: Rider, vendor: Organisation | None = None) -> None:
    """Refuse anybody but the rider and the crew of a vendor that serves the rider."""
    if owns(by, rider):
        return
    require(by, Right.TAKE_READINGS, vendor)
    if vendor is None or not serves(vendor, rider):
        require(by, Right.TAKE_READINGS, None)


def require_measurer(by: Actor, rider: Rider, organisation: Organisation | None = None) -> None:
    """Refuse anybody but the rider, a trailer's crew, and the testers of an organisation the rider shares with."""
    if organisation is not None and may(by, Right.RUN_TESTS, organisation) and opens_to(rider, organisation):
        return
    require_rider_or_trailer(by, rider, organisation)


def check_instrument(
    by: Actor, instrument: Instrument | None, *, kind: str | None, rider: Rider, vendor: Organisation | None
) -> None:
    """Refuse an instrument of another kind (where one is asked for), and one that is neither the rider's nor the crew's own."""
    if instrument is None:
        return
    if kind is not None and instrument.kind != kind:
        raise Invalid(
            f"{instrument} does not measure this: choose a {Instrument.Kind(kind).label.lower()}.",
            field="instrument",
        )
    is_riders = instrument.rider_id == rider.pk
    is_crews = vendor is not None and instrument.organisation_id == vendor.pk
    if not (isinstance(by, Service) or is_riders or is_crews):
        raise Invalid(
            "This instrument belongs to somebody else: choose one of your own, or none.", field="instrument"
        )


def check_standing(stint: Stint | None) -> None:
    """Refuse a reading or note for a stint that was voided; who voids it now waits and voids this with it."""
    if stint is None:
        return
    held = Stint.objects.select_for_update(no_key=True).filter(pk=stint.pk, voided_at__isnull=True)
    if held.values_list("pk").first() is None:
        raise StintVoided(
            "That stint was voided: choose the one that replaced it, or log it again.", field="stint"
        )
