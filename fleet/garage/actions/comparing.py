"""Writes of gauges compared with a better one: the newest comparison that stands says how far a gauge reads off."""

import uuid
from datetime import datetime
from typing import Final

from django.db import transaction

from fleet.accounts.policy import Actor, Right, author, require, require_service
from fleet.accounts.trail import correct, kept_by
from fleet.errors import Invalid
from fleet.garage.comparison import GaugeComparison
from fleet.garage.models import Instrument
from fleet.garage.queries import require_owner
from fleet.records import check_past, earlier, once, store, void

FARTHEST_KPA: Final = 40.0
"""A gauge further off than this is broken, or two tires were read; common practice, no published source."""


@once
@transaction.atomic
def compare_gauge(
    *,
    by: Actor,
    at: datetime,
    instrument: Instrument,
    own_kpa: float,
    master_kpa: float,
    compared_at: datetime,
    master: Instrument | None = None,
    key: uuid.UUID | None = None,
) -> GaugeComparison:
    """Store what a gauge and a master showed on one tire; from then on guidance and readings count with it."""
    _require_holder(by, instrument)
    if stored := earlier(
        GaugeComparison,
        key,
        instrument_id=instrument.pk,
        own_kpa=own_kpa,
        master_kpa=master_kpa,
        compared_at=compared_at,
    ):
        return stored
    check_past("compared_at", compared_at, at=at)
    _check_gauges(instrument, master)
    offset_kpa = round(own_kpa - master_kpa + (master.offset_kpa if master else 0.0), 3)
    if abs(offset_kpa) > FARTHEST_KPA:
        raise Invalid(
            "No gauge is that far off: read the same tire with both, one right after the other.",
            field="own_kpa",
        )
    made = _stored(by, at, instrument, master, own_kpa, master_kpa, offset_kpa, compared_at, key)
    _settle(instrument, by=by)
    return made


@transaction.atomic
def keep_comparison(
    *,
    by: Actor,
    at: datetime,
    instrument: Instrument,
    own_kpa: float,
    master_kpa: float,
    offset_kpa: float,
    compared_at: datetime,
    master: Instrument | None = None,
    key: uuid.UUID | None = None,
) -> GaugeComparison:
    """Store a comparison of an exchange folder as it was; what its gauge reads off by now, the folder says itself."""
    require_service(by)
    if stored := earlier(GaugeComparison, key, instrument_id=instrument.pk, offset_kpa=offset_kpa):
        return stored
    check_past("compared_at", compared_at, at=at)
    return _stored(by, at, instrument, master, own_kpa, master_kpa, offset_kpa, compared_at, key)


@transaction.atomic
def void_comparison(*, by: Actor, at: datetime, comparison: GaugeComparison, reason: str) -> GaugeComparison:
    """Mark a comparison as wrong: the one before it counts again, and without one the gauge was never compared."""
    _require_holder(by, comparison.instrument)
    void(comparison, by=author(by), at=at, reason=reason)
    _settle(comparison.instrument, by=by)
    return comparison


def _require_holder(by: Actor, instrument: Instrument) -> None:
    if instrument.rider is not None:
        require_owner(by, instrument.rider)
    else:
        require(by, Right.TAKE_READINGS, instrument.organisation)


def _check_gauges(instrument: Instrument, master: Instrument | None) -> None:
    for field, gauge in (("instrument", instrument), ("master", master)):
        if gauge is not None and gauge.kind != Instrument.Kind.PRESSURE:
            raise Invalid(f"{gauge} reads no pressure: choose a pressure gauge.", field=field)


def _stored(
    by: Actor,
    at: datetime,
    instrument: Instrument,
    master: Instrument | None,
    own_kpa: float,
    master_kpa: float,
    offset_kpa: float,
    compared_at: datetime,
    key: uuid.UUID | None,
) -> GaugeComparison:
    return store(
        GaugeComparison(
            id=key or uuid.uuid4(),
            instrument=instrument,
            master=master,
            own_kpa=own_kpa,
            master_kpa=master_kpa,
            offset_kpa=offset_kpa,
            compared_at=compared_at,
            recorded_by=author(by),
            recorded_at=at,
        )
    )


def _settle(instrument: Instrument, *, by: Actor) -> None:
    """Bring a gauge in line with its newest standing comparison."""
    rows = GaugeComparison.objects.standing().filter(instrument=instrument)
    newest = rows.order_by("-compared_at", "-recorded_at").first()
    state = {
        "offset_kpa": newest.offset_kpa if newest else 0.0,
        "compared_on": newest.compared_at.date() if newest else None,
    }
    correct(instrument, state, by=by, **kept_by(instrument.organisation, rider=instrument.rider_id))
