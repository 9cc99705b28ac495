"""Telling riders that a tire of theirs is recalled: once for each tire and notice, whenever it comes to be touched."""

from datetime import datetime
from typing import Final

from fleet.inventory.models import RecallNotice, Tire
from fleet.inventory.recalls import notices_in_force, tires_touched
from fleet.notices.actions import tell
from fleet.notices.models import Notice

TOPIC: Final = "recall"


def tell_recalled(*, at: datetime) -> int:
    """Tell the owners of tires that notices in force touch and who were not told yet; the number of tires is returned."""
    return sum(_tell(notice, at) for notice in notices_in_force())


def _tell(notice: RecallNotice, at: datetime) -> int:
    known = Notice.objects.filter(topic=TOPIC, about__startswith=f"{notice.pk}:")
    told = set(known.values_list("about", flat=True))
    waiting = [
        (tire, person)
        for tire in tires_touched(notice).filter(owner__person__isnull=False)
        if (person := tire.owner.person) is not None and about(notice, tire) not in told
    ]
    for tire, person in waiting:
        tell([person], topic=TOPIC, about=about(notice, tire), sentence=sentence(notice, tire), at=at)
    return len(waiting)


def about(notice: RecallNotice, tire: Tire) -> str:
    """Return what a message is about, so that it is sent once: this notice and this tire."""
    return f"{notice.pk}:{tire.pk}"


def sentence(notice: RecallNotice, tire: Tire) -> str:
    """Return what the owner of a touched tire is told."""
    whose = f"your {tire.spec.get_axle_display().lower()} tire {tire.label_code}"
    is_certain = bool(getattr(tire, "is_certain", False))
    if is_certain:
        return f"{notice}: do not ride on {whose}. {notice.what_to_do}"
    return f"{notice} may cover {whose}: do not ride on it before its sidewall was read. {notice.what_to_do}"
