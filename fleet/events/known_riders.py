"""Who a name on a list may be: the riders an organiser may enter on a day, and how sure a match is."""

import unicodedata
import uuid
from collections import defaultdict
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Final

from django.db.models import Q

from fleet.events.models import Day, Entry
from fleet.events.queries import riders_to_enter
from fleet.garage.models import Bike, Rider

NEAR: Final = 0.84
SHORTEST_WORD: Final = 3
MOST_CHOICES: Final = 6
SOMEBODY_NEW: Final = "new"


@dataclass(frozen=True)
class Choice:
    """One way to understand a row: a known rider or somebody new, on a known bike or a new one."""

    rider: Rider | None
    bike: Bike | None

    @property
    def value(self) -> str:
        """Return how a form names this choice."""
        if self.rider is None:
            return SOMEBODY_NEW
        return f"{self.rider.pk}:{self.bike.pk if self.bike else SOMEBODY_NEW}"


@dataclass(frozen=True)
class Match:
    """What a row was understood as: one choice that is sure, several to decide between, or a reason why none fits."""

    choices: list[Choice]
    is_sure: bool
    fault: str = ""
    column: str = ""


class KnownRiders:
    """The riders an organiser may enter on a day, with the bikes it may see, read in two queries."""

    def __init__(self, day: Day) -> None:
        organiser = day.event.organiser
        self.organiser = organiser
        self.riders = {rider.pk: rider for rider in riders_to_enter(day).order_by("name", "code")}
        ridden = Entry.objects.filter(day__event__organiser=organiser).values("bike")
        seen = Bike.objects.filter(rider__in=list(self.riders)).filter(
            Q(rider__person__isnull=True) | Q(pk__in=ridden)
        )
        self.bikes: dict[uuid.UUID, list[Bike]] = defaultdict(list)
        for bike in seen.order_by("description", "code"):
            self.bikes[bike.rider_id].append(bike)
        self._by_code = {rider.code.casefold(): rider for rider in self.riders.values()}
        self._by_name: dict[str, list[Rider]] = defaultdict(list)
        self._by_word: dict[str, list[Rider]] = defaultdict(list)
        self._plain_name = {pk: plain(rider.name) for pk, rider in self.riders.items()}
        self._by_contact: dict[str, list[Rider]] = defaultdict(list)
        for rider in self.riders.values():
            name = self._plain_name[rider.pk]
            self._by_name[name].append(rider)
            for word in {word for word in name.split() if len(word) >= SHORTEST_WORD}:
                self._by_word[word].append(rider)
            if rider.contact:
                self._by_contact[plain(rider.contact)].append(rider)

    def match(self, *, name: str, contact: str = "", code: str = "", bike: str = "") -> Match:
        """Return who a row names."""
        if code:
            rider = self._by_code.get(code.casefold())
            if rider is None:
                return Match(
                    [],
                    is_sure=False,
                    column="rider",
                    fault=f"Nobody with the code “{code}” may be entered by you: leave it empty for somebody new, or ask the "
                    "rider to enter themselves or to share with you.",
                )
            return self._on_a_bike([rider], bike, is_sure=True)
        same = self._by_name.get(plain(name), [])
        if len(same) == 1 and not self._contradicts(same[0], contact):
            return self._on_a_bike(same, bike, is_sure=True)
        alike = self._alike(name, contact, same)
        sure = [
            rider for rider in alike if contact and plain(rider.contact) == plain(contact) and rider in same
        ]
        if len(sure) == 1:
            return self._on_a_bike(sure, bike, is_sure=True)
        if not alike:
            return self._new(bike)
        found = self._on_a_bike(alike, bike, is_sure=False)
        return Match([*found.choices, Choice(None, None)], is_sure=False) if bike else found

    def _new(self, bike: str) -> Match:
        if not bike:
            sentence = "This rider is new: say what they ride, such as 600 sport."
            return Match([], is_sure=False, fault=sentence, column="bike")
        return Match([Choice(None, None)], is_sure=True)

    def _on_a_bike(self, riders: list[Rider], bike: str, *, is_sure: bool) -> Match:
        choices = []
        for rider in riders:
            bikes = self.bikes[rider.pk]
            same = [one for one in bikes if bike and plain(one.description) == plain(bike)]
            if len(same) == 1 or (len(bikes) == 1 and not bike):
                choices.append(Choice(rider, (same or bikes)[0]))
                continue
            choices += [Choice(rider, one) for one in (same or bikes)]
            if bike and not same and self._keeps_bikes_of(rider):
                choices.append(Choice(rider, None))
        if not choices:
            who = riders[0]
            return Match([], is_sure=False, fault=self._why_no_bike(who), column="bike")
        return Match(choices[:MOST_CHOICES], is_sure=is_sure and len(choices) == 1)

    def _why_no_bike(self, rider: Rider) -> str:
        if self._keeps_bikes_of(rider):
            return f"No bike of {rider} is known: say what they ride, such as 600 sport."
        return (
            f"{rider} has an account or another home, and no bike that rode with you: ask them to enter themselves on the "
            "event's page."
        )

    def _keeps_bikes_of(self, rider: Rider) -> bool:
        return rider.person_id is None and rider.registered_with_id == self.organiser.pk

    def _contradicts(self, rider: Rider, contact: str) -> bool:
        return bool(contact and rider.contact and plain(contact) != plain(rider.contact))

    def _alike(self, name: str, contact: str, same: list[Rider]) -> list[Rider]:
        wanted = plain(name)
        near = {rider.pk: rider for word in wanted.split() for rider in self._by_word.get(word, ())}
        found = {rider.pk: rider for rider in same}
        found |= {pk: rider for pk, rider in near.items() if _is_near(wanted, self._plain_name[pk])}
        found |= {rider.pk: rider for rider in self._by_contact.get(plain(contact), ()) if contact}
        return sorted(found.values(), key=lambda rider: (-_likeness(wanted, plain(rider.name)), rider.code))


def plain(text: str) -> str:
    """Return a text as two people would call it the same: without accents, case and odd spaces."""
    apart = unicodedata.normalize("NFKD", text)
    letters = "".join(one for one in apart if not unicodedata.combining(one))
    return " ".join(letters.casefold().split())


def _is_near(one: str, other: str) -> bool:
    """Return whether two names are alike enough to ask; what cannot be is told by its letters, which is quicker."""
    matcher = SequenceMatcher(None, one, other)
    return matcher.real_quick_ratio() >= NEAR and matcher.quick_ratio() >= NEAR and matcher.ratio() >= NEAR


def _likeness(one: str, other: str) -> float:
    return SequenceMatcher(None, one, other).ratio()
