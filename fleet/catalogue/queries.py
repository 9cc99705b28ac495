"""Reads of reference notes: what is everybody's, and what an organisation's testers gathered."""

from django.db.models import Q, QuerySet

from fleet.accounts.models import Organisation
from fleet.accounts.policy import Actor, Right, organisations
from fleet.catalogue.models import ReferenceNote

SHARED = Q(organisation__isnull=True)


def shared_notes() -> QuerySet[ReferenceNote]:
    """Return the notes that count in everybody's targets."""
    return ReferenceNote.objects.filter(SHARED)


def notes_counting_for(organisation: Organisation) -> QuerySet[ReferenceNote]:
    """Return the notes that count in an organisation's tests: the shared ones and its own."""
    return ReferenceNote.objects.filter(SHARED | Q(organisation=organisation))


def notes_for(by: Actor) -> QuerySet[ReferenceNote]:
    """Return the notes somebody may read: the shared ones, and those of organisations they test for."""
    own = Q(organisation__in=organisations(by, Right.RUN_TESTS))
    return ReferenceNote.objects.filter(SHARED | own).order_by("-noted_on", "id")
