"""Whom something is held about: a rider with or without an account, or a person who does not ride."""

from dataclasses import dataclass

from django.db.models import QuerySet

from fleet.accounts.models import Person
from fleet.accounts.policy import Actor, Service
from fleet.accounts.trail import Owners
from fleet.errors import NotFound
from fleet.garage.models import Rider
from fleet.garage.queries import own_rider, require_owner


@dataclass(frozen=True)
class Holder:
    """One human being, as the service knows them; what they are not matches no row."""

    person: Person | None
    rider: Rider | None

    @property
    def people(self) -> QuerySet[Person]:
        """Return the account, or no row."""
        return Person.objects.filter(pk=self.person.pk) if self.person else Person.objects.none()

    @property
    def riders(self) -> QuerySet[Rider]:
        """Return the rider record, or no row."""
        return Rider.objects.filter(pk=self.rider.pk) if self.rider else Rider.objects.none()

    @property
    def record(self) -> Rider | Person:
        """Return the row the trail names: the rider record, or the account of somebody who does not ride."""
        record = self.rider or self.person
        if record is None:
            raise NotFound("There is nobody of that name here.")
        return record

    @property
    def owners(self) -> Owners:
        """Return whom a line of the trail concerns."""
        return {"rider": self.rider.pk if self.rider else None, "person": self.person}


def holder_for(by: Actor, *, rider: Rider | None = None) -> Holder:
    """Return the human being an archive or an erasure is about: who asks, or for the service the rider it names."""
    if isinstance(by, Service):
        if rider is None:
            raise NotFound("Name the rider whose data is meant.")
        return Holder(rider.person, rider)
    if rider is not None:
        require_owner(by, rider)
    return Holder(by, own_rider(by))


def find_rider(code: str) -> Rider:
    """Return the rider with a code; an unknown one is refused."""
    rider = Rider.objects.filter(code=code).select_related("person").first()
    if rider is None:
        raise NotFound(
            f"No rider has the code {code!r}: look at the job ticket or at riders.csv of an export."
        )
    return rider
