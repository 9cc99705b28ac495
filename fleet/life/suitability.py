"""Bridge to what speaks against putting a tire on an axle: said before it is fitted, and a person decides.

What must not be fitted at all (the other axle's tire, one on hold, recalled or scrapped) the action refuses.
"""

from dataclasses import dataclass
from datetime import date

from fleet.catalogue.models import TireSpec
from fleet.garage.models import Bike
from fleet.life.models import Assessment, State
from fleet.science.date_codes import WEEK_TOLERANCE, age_years
from fleet.science.life import REPLACE_AGE_YEARS, SERVICE_AGE_YEARS
from fleet.science.rim_width import RimRange, usual_rims
from fleet.science.tire_size import TireSize, parse_size


@dataclass(frozen=True)
class Against:
    """One thing that speaks against a tire: its code, few words for a list, and a sentence with what to look at."""

    code: str
    words: str
    sentence: str


@dataclass(frozen=True)
class Axle:
    """Where a tire is to go: the end of the bike, what comes off there, and what will be on the other end."""

    bike: Bike
    name: str
    old: TireSpec | None
    other: TireSpec | None

    @property
    def rim_in(self) -> float | None:
        """Return the width of the rim, where it is on record."""
        return self.bike.front_rim_in if self.name == "front" else self.bike.rear_rim_in


def speaks_against(
    spec: TireSpec,
    axle: Axle,
    *,
    on: date,
    made_on: date | None,
    assessment: Assessment | None = None,
    was_used: bool = False,
) -> list[Against]:
    """Return what speaks against fitting a tire of a spec on a day, the gravest first."""
    found = [*_worn(assessment), *_by_age(made_on, on, was_used=was_used)]
    size, old = _size(spec), _size(axle.old)
    if size is not None:
        found += [*_by_rim(size, axle), *_by_size(size, old), *_by_service(size, old)]
    return [*found, *_by_line(spec, axle)]


def rims_of(spec: TireSpec) -> RimRange | None:
    """Return the rims a spec usually goes on, or nothing where its size does not tell."""
    size = _size(spec)
    return usual_rims(size) if size else None


def _size(spec: TireSpec | None) -> TireSize | None:
    try:
        return parse_size(spec.size) if spec else None
    except ValueError:  # an inch or letter designation, imported before sizes were checked
        return None


def _worn(assessment: Assessment | None) -> list[Against]:
    if assessment is None or assessment.state != State.STAND_DOWN:
        return []
    limit = assessment.binding_limit.replace("_", " ")
    sentence = f"This tire has reached a limit ({limit}) and stands down: it is not for riding on."
    return [Against("worn", f"stands down, {limit}", sentence)]


def _by_age(made_on: date | None, on: date, *, was_used: bool) -> list[Against]:
    if made_on is None:
        sentence = "Its age is not known: read the date code on the sidewall before it goes on."
        return [Against("age_unknown", "age not known", sentence)]
    years = age_years(min(made_on, on + WEEK_TOLERANCE), on)
    limit = REPLACE_AGE_YEARS if was_used else SERVICE_AGE_YEARS
    if years <= limit:
        return []
    advice = (
        f"tires are replaced {limit:.0f} years after they were made"
        if was_used
        else f"a tire does not go into service more than {limit:.0f} years after it was made"
    )
    sentence = (
        f"It is {years:.1f} years old; by the trade's guideline {advice}. Have it inspected by a professional, whatever "
        "the tread says."
    )
    return [Against("age", f"over the guideline of {limit:.0f} years", sentence)]


def _by_rim(size: TireSize, axle: Axle) -> list[Against]:
    rims, rim_in = usual_rims(size), axle.rim_in
    if rims is None or rim_in is None or rims.holds(rim_in):
        return []
    sentence = (
        f"{size.width_mm}/{size.aspect} is an unusual size on a {rim_in:g} inch rim; by common practice it goes on "
        f"{rims.narrowest_in:g} to {rims.widest_in:g} inches. The tire maker's list of rims decides."
    )
    return [Against("rim", f"unusual on a {rim_in:g} inch rim", sentence)]


def _by_size(size: TireSize, old: TireSize | None) -> list[Against]:
    if old is None:
        return []
    if size.rim_code != old.rim_code:
        sentence = (
            f"This tire is for a {size.rim_code} inch wheel; the one on it is for {old.rim_code} inches. It does not seat "
            "on another diameter: check both sidewalls and the rim."
        )
        return [Against("diameter", f"for a {size.rim_code} inch wheel", sentence)]
    if (size.width_mm, size.aspect) == (old.width_mm, old.aspect):
        return []
    sentence = (
        f"{size.width_mm}/{size.aspect} takes the place of {old.width_mm}/{old.aspect}: check the sizes the bike's papers "
        "allow, and that it clears chain, swingarm and mudguard. Rake, trail and gearing change."
    )
    return [Against("size", "another size than on it now", sentence)]


def _by_service(size: TireSize, old: TireSize | None) -> list[Against]:
    found = []
    if old and size.load_kg is not None and old.load_kg is not None and size.load_kg < old.load_kg:
        sentence = (
            f"It carries {size.load_kg} kg, the one on it now {old.load_kg} kg: check the load index the bike's papers "
            "ask for."
        )
        found.append(Against("load", f"carries {size.load_kg} kg, less than now", sentence))
    if old and _slower(size, old):
        sentence = (
            f"Its speed symbol stands for {size.speed_kmh} km/h, that of the one on it now for {old.speed_kmh} km/h: "
            "check the symbol the bike's papers ask for."
        )
        found.append(Against("speed", f"made for {size.speed_kmh} km/h, less than now", sentence))
    return found


def _slower(size: TireSize, old: TireSize) -> bool:
    if size.speed_kmh is None or old.speed_kmh is None:
        return False
    return size.speed_kmh < old.speed_kmh and not size.is_speed_a_floor


def _by_line(spec: TireSpec, axle: Axle) -> list[Against]:
    other = axle.other
    if other is None or other.line_id == spec.line_id:
        return []
    end = "rear" if axle.name == "front" else "front"
    sentence = (
        f"The {end} tire is {other.line}, this one {spec.line}: lines are made and tested as pairs. Grip, profile and the "
        "pressures that suit them can differ between the ends."
    )
    return [Against("line", f"not the line of the {end} tire", sentence)]
