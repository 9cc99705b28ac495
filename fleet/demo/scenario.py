"""The whole scenario: an invented season up to today and an event tomorrow, written as an exchange folder."""

from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Final

from fleet.demo.cast import add_cast
from fleet.demo.inspecting import add_inspections, hold_at_the_gate
from fleet.demo.places import TrackDay, add_places
from fleet.demo.products import add_products
from fleet.demo.readings import write_surface
from fleet.demo.recalls import add_recalls
from fleet.demo.reserving import add_reservations
from fleet.demo.riding import HELD, KEPT_ON_HOLD, LIFTED, Season
from fleet.demo.scene import Scene, midnight, minutes
from fleet.demo.shop import Shop
from fleet.demo.stints import Garage, Stints
from fleet.demo.trials import add_trials
from fleet.demo.truth import Truth

ATTENDANCE: Final = 0.75
FRESH: Final = (5, 21, 44)
GIVER: Final = 33
TAKER: Final = 0
AT_THE_TRAILER: Final = (0, 3, 10, 14, 22, 28, 36, 42, 50, 57)
SAME: Final = True
WISHES: Final[tuple[tuple[str, dict[str, tuple[bool, str]]], ...]] = (
    ("", {"rear": (SAME, "scrapped")}),
    ("", {"front": (SAME, "handed_back"), "rear": (SAME, "scrapped")}),
    ("", {"front": (SAME, "kept")}),
    ("rear loses air, check the valve", {"rear": (not SAME, "")}),
    ("wets on", {}),
)
"""What riders ask for: in words, and for each wheel whether the same tire goes on and where the old one goes."""
PROMISED_MIN: Final = (75, 45, None, 90)


def generate(folder: Path, *, today: date, at: datetime, attendance: float = ATTENDANCE) -> None:
    """Write the season that ends today as a folder; the same date gives the same season.

    ``at`` is the moment of loading, at or after which nothing has happened: only the tickets of the day and their wishes depend on it.
    """
    scene = Scene(today)
    add_products(scene)
    days = add_places(scene)
    riders = add_cast(scene)
    truth = Truth(scene)
    shop = Shop(scene, truth)
    season = Season(scene, shop, attendance, Stints(scene, truth))
    garages = season.ride(days, riders)
    last = [day for day in days if day.date < today][-1]
    _place_holds(scene, shop, garages, last)
    add_inspections(scene, garages, last)
    _get_ready(scene, shop, garages)
    _hand_in(scene, garages, at)
    shop.write_ledger()
    add_recalls(scene, garages[LIFTED])
    add_reservations(scene, garages)
    add_trials(scene, days, garages)
    scene.write(folder)


def _get_ready(scene: Scene, shop: Shop, garages: list[Garage]) -> None:
    """Let everybody have tires for tomorrow: those who have none yet, and some who want fresh ones."""
    evening = midnight(scene.day(-1)) + timedelta(hours=16)
    for garage in garages:
        for place, wheel in enumerate(garage.wheels("dry")):
            moment = evening + minutes(2 * garage.rider.index + place)
            if garage.rider.index in FRESH and wheel.rubber is not None:
                shop.take_off(wheel, moment - minutes(1), "swap", "kept")
            if wheel.rubber is None:
                shop.fit(wheel, garage.rider.vendor, moment)
    _hand_over(scene, shop, garages[GIVER], garages[TAKER], evening + timedelta(hours=3))


def _hand_over(scene: Scene, shop: Shop, giver: Garage, taker: Garage, moment: datetime) -> None:
    """Let one rider give a rear, taken off for another, to a friend who keeps it as a spare."""
    wheel = giver.wheels("dry")[1]
    if wheel.rubber is None:
        return
    label = wheel.rubber.label
    shop.take_off(wheel, moment - minutes(40), "sold", "handed_back")
    shop.fit(wheel, giver.rider.vendor, moment - minutes(20))
    scene.add(
        "handovers",
        tire=label,
        giver=giver.rider.code,
        taker=taker.rider.code,
        handed_at=moment,
        recorded_at=moment,
    )


def _place_holds(scene: Scene, shop: Shop, garages: list[Garage], last: TrackDay) -> None:
    """Add a hold that stands, one that was lifted, and a damaged tire that a vendor keeps."""
    moment = last.at(18)
    held, lifted, kept = (garages[index].wheels("dry")[1] for index in (HELD, LIFTED, KEPT_ON_HOLD))
    if held.rubber is not None:
        write_surface(scene, held.rubber, moment, "cut", zone="R1", words="about 8 mm long")
        hold_at_the_gate(scene, held, moment + minutes(5), "A cut in the right shoulder, seen at the gate.")
    if lifted.rubber is not None:
        hold_at_the_gate(
            scene,
            lifted,
            moment + minutes(9),
            "Looks like a blister, to be seen by daylight.",
            lifted_at=moment + timedelta(hours=15),
            lift_reason="Only pick-up; scraped off.",
        )
    if kept.rubber is not None:
        rider = garages[KEPT_ON_HOLD].rider
        shop.take_off(kept, moment + minutes(30), "damaged", "on_hold", vendor=rider.vendor)
        shop.fit(kept, rider.vendor, moment + minutes(55))


def _hand_in(scene: Scene, garages: list[Garage], at: datetime) -> None:
    """Add today's wheels at the trailer."""
    earliest = midnight(scene.today)
    chosen = [garages[index] for index in AT_THE_TRAILER if garages[index].rider.vendor == "tarn"]
    for number, garage in enumerate(chosen, start=1):
        opened_at = max(at - minutes(7 * (len(chosen) - number) + 4), earliest)
        promised = PROMISED_MIN[number % len(PROMISED_MIN)]
        words, wheels = WISHES[number % len(WISHES)]
        scene.add(
            "tickets",
            vendor="tarn",
            opened_on=scene.today,
            number=number,
            wheel_pair=garage.rider.pair("dry"),
            opened_at=opened_at,
            promised_at=opened_at + minutes(promised) if promised else None,
            wish=words,
            state=("ready", "on_machine", "waiting")[min(number - 1, 2)],
        )
        for wheel in garage.wheels("dry"):
            if wheel.axle in wheels:
                is_same, destination = wheels[wheel.axle]
                scene.add(
                    "wishes",
                    vendor="tarn",
                    ticket=f"{scene.today.isoformat()}/{number}",
                    axle=wheel.axle,
                    spec=wheel.spec.code if is_same else "",
                    destination=destination,
                    recorded_at=opened_at,
                )
