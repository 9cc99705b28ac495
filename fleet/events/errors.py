"""Refusals about events and their days."""

from fleet.errors import Conflict, NotAllowed


class DayInUse(Conflict):
    """A day whose date or track cannot change any more, because something rests on it."""

    code = "day-in-use"


class NeedsConsent(NotAllowed):
    """An entry of a rider who has not agreed to ride with this organiser."""

    code = "needs-consent"


class EntriesClosed(Conflict):
    """An entry by a rider where riders cannot enter themselves, or not any more."""

    code = "entries-closed"


class TooLateToLeave(Conflict):
    """An entry that its rider takes back when the day has come."""

    code = "too-late-to-leave"


class PlanChanged(Conflict):
    """A timetable somebody else changed since it was looked at."""

    code = "plan-changed"
