"""Writes of what can be bought; the catalogue is shared, so only the service itself writes it."""

from django.db import transaction

from fleet.accounts.policy import Actor, require_service
from fleet.accounts.trail import note_made
from fleet.catalogue.models import PressureSpec, TireLine, TireSpec
from fleet.catalogue.sizes import check_size
from fleet.errors import Invalid
from fleet.records import store


@transaction.atomic
def add_line(*, by: Actor, maker: str, name: str, category: str, carcass: str = "medium") -> TireLine:
    """Store a tire line."""
    require_service(by)
    return note_made(store(TireLine(maker=maker, name=name, category=category, carcass=carcass)), by=by)


@transaction.atomic
def add_spec(
    *,
    by: Actor,
    line: TireLine,
    code: str,
    axle: str,
    size: str,
    new_depth_mm: float,
    wear_limit_mm: float,
    compound: str = "",
    lower_kpa: float | None = None,
    upper_kpa: float | None = None,
    heat_cycle_limit: int | None = None,
    is_road_legal: bool = True,
) -> TireSpec:
    """Store a spec; its size designation must be readable."""
    require_service(by)
    check_size(size)
    made = store(
        TireSpec(
            line=line,
            code=code,
            axle=axle,
            size=size,
            compound=compound,
            new_depth_mm=new_depth_mm,
            wear_limit_mm=wear_limit_mm,
            lower_kpa=lower_kpa,
            upper_kpa=upper_kpa,
            heat_cycle_limit=heat_cycle_limit,
            is_road_legal=is_road_legal,
        )
    )
    return note_made(made, by=by)


@transaction.atomic
def publish_pressure(
    *,
    by: Actor,
    line: TireLine,
    axle: str,
    basis: str,
    pressure_kpa: float,
    published_by: str,
    spec: TireSpec | None = None,
    use: str = PressureSpec.Use.TRACK,
    reference_c: float | None = None,
) -> PressureSpec:
    """Store a published pressure; a value that is not hot needs the temperature it refers to."""
    require_service(by)
    if spec is not None and (spec.line_id != line.pk or spec.axle != axle):
        raise Invalid("The spec belongs to another line or axle: give its own.", field="spec")
    if basis != PressureSpec.Basis.HOT and reference_c is None:
        raise Invalid(
            "A cold or off-warmers pressure holds at a temperature: give it in reference_c, 20 where the maker "
            "says only 'cold'.",
            field="reference_c",
        )
    made = store(
        PressureSpec(
            line=line,
            spec=spec,
            axle=axle,
            basis=basis,
            use=use,
            pressure_kpa=pressure_kpa,
            reference_c=reference_c,
            published_by=published_by,
        )
    )
    return note_made(made, by=by)
