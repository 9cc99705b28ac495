"""Taking one tire off and putting another on, as the single step it is at the machine."""

import uuid
from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor
from fleet.garage.models import WheelPair
from fleet.inventory.actions.fittings import fit_tire
from fleet.inventory.actions.removals import remove_tire
from fleet.inventory.models import Fitting, JobTicket, Lot, Tire
from fleet.inventory.queries import fitted_now


@transaction.atomic
def replace_tire(
    *,
    by: Actor,
    at: datetime,
    wheel_pair: WheelPair,
    axle: str,
    fitted_at: datetime,
    reason: str,
    destination: str,
    vendor: Organisation | None = None,
    lot: Lot | None = None,
    tire: Tire | None = None,
    identification: str = "",
    ticket: JobTicket | None = None,
    despite: Sequence[str] = (),
    despite_reserved: str = "",
    key: uuid.UUID | None = None,
) -> Fitting:
    """End the fitting on an axle and start the next at the same moment: both are stored, or neither.

    Both steps find by their keys what was stored before; asked again as a whole, this would take off what somebody else just
    put on.
    """
    key = key or uuid.uuid4()
    vendor = vendor or (lot.vendor if lot else None)
    old = fitted_now(wheel_pair).filter(axle=axle).first()
    if old is not None and not Fitting.objects.filter(pk=key).exists():
        remove_tire(
            by=by,
            at=at,
            fitting=old,
            removed_at=fitted_at,
            reason=reason,
            destination=destination,
            vendor=vendor,
            key=uuid.uuid5(key, "removal"),
        )
    return fit_tire(
        by=by,
        at=at,
        wheel_pair=wheel_pair,
        axle=axle,
        fitted_at=fitted_at,
        vendor=vendor,
        lot=lot,
        tire=tire,
        identification=identification,
        ticket=ticket,
        despite=despite,
        despite_reserved=despite_reserved,
        key=key,
    )
