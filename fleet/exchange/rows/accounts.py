"""Organisations and people."""

from typing import Any, Final

from fleet.accounts.actions import add_organisation, add_person, choose_units, give_role
from fleet.accounts.models import ERASED_DOMAIN, Organisation, Person, Role
from fleet.accounts.policy import Actor
from fleet.errors import Invalid
from fleet.exchange.columns import NO_KEYWORD, Cells, Column, Sheet, thing
from fleet.exchange.kinds import CODE, EMAIL, ROLES, TEXT, YES_NO, choice

UNITS: Final = ("pressure_unit", "temperature_unit", "depth_unit", "distance_unit")


def _add_with_roles(*, by: Actor, email: str, name: str, roles: list[tuple[str, str]] | None) -> Person:
    person = add_person(by=by, email=email, name=name)
    named = [code for code, _ in roles or []]
    known = {row.code: row for row in Organisation.objects.filter(code__in=named)}
    for code, role in roles or []:
        if code not in known:
            raise Invalid(
                f"There is no organisation {code!r}: add it to organisations.csv or correct the code.",
                field="roles",
            )
        if role not in Role.values:
            raise Invalid(f"{role!r} is no role: use one of {', '.join(Role.values)}.", field="roles")
        give_role(by=by, person=person, organisation=known[code], role=Role(role))
    return person


def _choose_units(person: Person, cells: Cells) -> None:
    chosen = {name: cells[name] or getattr(person, name) for name in UNITS}
    if any(getattr(person, name) != value for name, value in chosen.items()):
        choose_units(by=person, **chosen)


def _roles_of(person: Person) -> list[tuple[str, str]]:
    return sorted((one.organisation.code, one.role) for one in person.memberships.all())


def _unit(name: str, choices: Any, shown: str) -> Column:
    return Column(
        name,
        choice(choices),
        f"Unit in which {shown} is shown to them.",
        required=False,
        gives=NO_KEYWORD,
        living=True,
    )


SHEETS: Final = (
    Sheet(
        name="organisations",
        about="Tire vendors and track-day organisers.",
        columns=(
            Column("code", CODE, "Short name other files refer to."),
            Column("name", TEXT, "Full name."),
            Column("is_vendor", YES_NO, "Whether it sells and fits tires."),
            Column("is_organiser", YES_NO, "Whether it runs events."),
            Column("contact", TEXT, "How to reach it.", required=False),
            Column("currency", TEXT, "Three letters of the currency it asks, such as EUR.", required=False),
        ),
        identity=("code",),
        rows=Organisation.objects.all,
        add=thing(add_organisation),
        shelf="organisation",
    ),
    Sheet(
        name="people",
        about="Who can sign in; passwords never stand in a file.",
        columns=(
            Column("email", EMAIL, "Address they sign in with."),
            Column("name", TEXT, "Full name."),
            Column("roles", ROLES, "What they do, and where.", required=False, take=_roles_of, living=True),
            _unit("pressure_unit", Person.PressureUnit, "pressure"),
            _unit("temperature_unit", Person.TemperatureUnit, "temperature"),
            _unit("depth_unit", Person.DepthUnit, "tread depth"),
            _unit("distance_unit", Person.DistanceUnit, "distance"),
        ),
        identity=("email",),
        # An account that an API key acts with is nobody, and a key never stands in a file; nor does who is erased.
        rows=lambda: (
            Person.objects.exclude(api_keys__organisation__isnull=False)
            .exclude(email__endswith=f"@{ERASED_DOMAIN}")
            .prefetch_related("memberships__organisation")
        ),
        add=thing(_add_with_roles),
        shelf="person",
        after=("organisations",),
        settle=_choose_units,
    ),
)
