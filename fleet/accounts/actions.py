"""Writes about people and organisations."""

from fleet.accounts.models import Membership, Organisation, Person, Role
from fleet.accounts.policy import Actor, require_service
from fleet.records import save_changes, store


def add_organisation(
    *, by: Actor, code: str, name: str, is_vendor: bool, is_organiser: bool, contact: str = ""
) -> Organisation:
    """Store a vendor or an organiser."""
    require_service(by)
    return store(
        Organisation(code=code, name=name, is_vendor=is_vendor, is_organiser=is_organiser, contact=contact)
    )


def add_person(*, by: Actor, email: str, name: str, password: str | None = None) -> Person:
    """Store somebody who can sign in; without a password no sign-in works until one is set."""
    require_service(by)
    person = Person(email=Person.objects.normalize_email(email).lower(), name=name)
    person.set_password(password)
    return store(person)


def give_role(*, by: Actor, person: Person, organisation: Organisation, role: Role) -> Membership:
    """Give a person a role in an organisation."""
    require_service(by)
    return store(Membership(person=person, organisation=organisation, role=role))


def choose_units(
    *, by: Person, pressure_unit: str, temperature_unit: str, depth_unit: str, distance_unit: str
) -> Person:
    """Change the units a person sees; nothing stored changes with them."""
    by.pressure_unit = pressure_unit
    by.temperature_unit = temperature_unit
    by.depth_unit = depth_unit
    by.distance_unit = distance_unit
    return save_changes(by, "pressure_unit", "temperature_unit", "depth_unit", "distance_unit")
