"""Writes about people and organisations."""

from allauth.account.models import EmailAddress
from django.db import transaction

from fleet.accounts.models import Membership, Organisation, Person, Role, What
from fleet.accounts.policy import Actor, require_service
from fleet.accounts.trail import correct, note, note_made
from fleet.records import store


@transaction.atomic
def add_organisation(
    *,
    by: Actor,
    code: str,
    name: str,
    is_vendor: bool,
    is_organiser: bool,
    contact: str = "",
    currency: str = "",
) -> Organisation:
    """Store a vendor or an organiser."""
    require_service(by)
    organisation = store(
        Organisation(
            code=code,
            name=name,
            is_vendor=is_vendor,
            is_organiser=is_organiser,
            contact=contact,
            currency=currency,
        )
    )
    return note_made(organisation, by=by, organisation=organisation)


@transaction.atomic
def add_person(*, by: Actor, email: str, name: str, password: str | None = None) -> Person:
    """Store somebody who can sign in, their address taken as confirmed; without a password they ask for a code."""
    require_service(by)
    person = _store(email, name, password)
    note_made(person, "name", by=by, person=person)
    EmailAddress.objects.create(user=person, email=person.email, verified=True, primary=True)
    return person


@transaction.atomic
def sign_up(*, email: str, name: str, password: str | None) -> Person:
    """Store somebody by their own doing; they get in once they showed that the address is theirs."""
    person = _store(email, name, password)
    return note_made(person, "name", by=person, person=person)


@transaction.atomic
def note_address(*, by: Person, before: str, after: str) -> None:
    """Note the change of the address somebody signs in with, which the accounts library wrote."""
    note(by, What.CORRECTED, by=by, before={"email": before}, after={"email": after}, person=by)


@transaction.atomic
def note_way_in(*, by: Person, way_in: str) -> None:
    """Note another way in, a password or a second factor, without anything that would open it."""
    note(by, What.CORRECTED, by=by, after={"way_in": way_in}, person=by)


@transaction.atomic
def give_role(*, by: Actor, person: Person, organisation: Organisation, role: Role) -> Membership:
    """Give a person a role in an organisation."""
    require_service(by)
    membership = store(Membership(person=person, organisation=organisation, role=role))
    return note_made(membership, by=by, what=What.GRANTED, person=person, organisation=organisation)


@transaction.atomic
def choose_units(
    *, by: Person, pressure_unit: str, temperature_unit: str, depth_unit: str, distance_unit: str
) -> Person:
    """Change the units a person sees; nothing stored changes with them."""
    units = {
        "pressure_unit": pressure_unit,
        "temperature_unit": temperature_unit,
        "depth_unit": depth_unit,
        "distance_unit": distance_unit,
    }
    return correct(by, units, by=by, person=by)


def _store(email: str, name: str, password: str | None) -> Person:
    person = Person(email=Person.objects.normalize_email(email).lower(), name=name)
    person.set_password(password)
    return store(person)
