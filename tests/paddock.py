"""A full paddock on one invented day: many riders with bikes, wheels, tires and entries, stored in bulk with the same ids each time."""

import uuid
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from fleet.accounts.actions import add_organisation, add_person, give_role
from fleet.accounts.models import Organisation, Person, Role
from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import add_line, add_spec
from fleet.events.actions import add_day, add_group, add_layout, add_slot, add_track, plan_event
from fleet.events.models import Day, Entry
from fleet.garage.models import Bike, Rider, WheelPair
from fleet.inventory.models import Fitting, Hold, Tire
from fleet.life.models import Assessment

HERE = uuid.UUID("6b0a4a3c-7d52-4a6c-9a35-1f3a4f6f2f10")
LINES = (
    ("Corvane", "Alder TD", "track_day"),
    ("Halvick", "Strake R", "race_treaded"),
    ("Mirrin", "Lowmoor TD", "track_day"),
)
GROUPS = (("Fast", 112.0), ("Middle", 121.0), ("Novice", 134.0))
NEW_MM = {"front": 5.0, "rear": 6.0}


def key(*names: object) -> uuid.UUID:
    """Return the same id for the same names."""
    return uuid.uuid5(HERE, " ".join(map(str, names)))


@dataclass(frozen=True)
class Paddock:
    """The day, its director, and by number what every rider brought."""

    day: Day
    director: Person
    pairs: list[WheelPair]
    tires: list[dict[str, Tire]]


def zone_of_noon(at: datetime) -> str:
    """Return a time zone in which it is about noon, so that a day does not end while it is played."""
    ahead = 12 - at.hour
    return f"Etc/GMT{-ahead:+d}" if ahead else "Etc/GMT"


def full_paddock(
    riders: int, *, at: datetime, on: date, zone: str = "Europe/London", has_accounts: bool = False
) -> Paddock:
    """Store a day with so many riders; their tires were fitted three days before ``at``."""
    longfield = add_organisation(
        by=SERVICE, code="longfield", name="Longfield Track Days", is_vendor=False, is_organiser=True
    )
    director = add_person(
        by=SERVICE, email="dara@example.org", name="Dara Quill", password="open the trailer"
    )
    give_role(by=SERVICE, person=director, organisation=longfield, role=Role.DIRECTOR)
    day, groups = _day(longfield, at=at, on=on, zone=zone)
    specs = _specs()
    people = [
        Person(id=key("person", n), email=f"rider{n}@example.org", name=f"Rider {n}", password="!")
        for n in range(riders if has_accounts else 0)
    ]
    Person.objects.bulk_create(people)
    owners = [
        Rider(
            id=key("rider", n), code=f"r-{n:03d}", name=f"Rider {n}", registered_with=longfield,
            person=people[n] if people else None,
        )
        for n in range(riders)
    ]  # fmt: skip
    bikes = [
        Bike(id=key("bike", n), rider=owners[n], code=f"b-{n:03d}", description="1000 sport")
        for n in range(riders)
    ]
    pairs = [
        WheelPair(id=key("pair", n), bike=bikes[n], code=f"w-{n:03d}", name="dry") for n in range(riders)
    ]
    tires = [
        {
            axle: Tire(
                id=key("tire", n, axle), spec=specs[n % len(specs)][axle], owner=owners[n],
                label_code=f"T{n:03d}{axle[0].upper()}", made_on=on - timedelta(days=200),
            )
            for axle in NEW_MM
        }
        for n in range(riders)
    ]  # fmt: skip
    entries = [
        Entry(
            id=key("entry", n), day=day, rider=owners[n], bike=bikes[n], group=groups[n % len(groups)], number=str(n),
            uses_warmers=n % 4 == 0,
        )
        for n in range(riders)
    ]  # fmt: skip
    for model, rows in ((Rider, owners), (Bike, bikes), (WheelPair, pairs), (Entry, entries)):
        model.objects.bulk_create(rows)
    Tire.objects.bulk_create(tire for both in tires for tire in both.values())
    Fitting.objects.bulk_create(
        Fitting(
            id=key("fitting", n, axle), tire=tires[n][axle], wheel_pair=pairs[n], axle=axle,
            fitted_at=at - timedelta(days=3), recorded_at=at - timedelta(days=3),
        )
        for n in range(riders)
        for axle in NEW_MM
    )  # fmt: skip
    return Paddock(day, director, pairs, tires)


def _day(organiser: Organisation, *, at: datetime, on: date, zone: str):
    track = add_track(
        by=SERVICE, code="marram-point", name="Marram Point Circuit", latitude_deg=52.9, longitude_deg=0.4,
        altitude_m=18.0, time_zone=zone,
    )  # fmt: skip
    layout = add_layout(by=SERVICE, track=track, code="marram-point-full", name="Full", length_km=4.12)
    event = plan_event(by=SERVICE, organiser=organiser, code="full-day", name="Longfield Full Day")
    day = add_day(by=SERVICE, event=event, date=on, layout=layout)
    groups = [add_group(by=SERVICE, event=event, name=name, usual_lap_s=lap_s) for name, lap_s in GROUPS]
    for turn in range(6):
        for place, group in enumerate(groups):
            starts_at = at - timedelta(hours=3) + timedelta(minutes=60 * turn + 20 * place)
            add_slot(
                by=SERVICE,
                day=day,
                group=group,
                starts_at=starts_at,
                ends_at=starts_at + timedelta(minutes=20),
            )
    return day, groups


def _specs():
    made = []
    for maker, name, category in LINES:
        line = add_line(by=SERVICE, maker=maker, name=name, category=category, carcass="medium")
        made.append(
            {
                axle: add_spec(
                    by=SERVICE, line=line, code=f"{maker}-{axle}".lower(), axle=axle, size=size, new_depth_mm=NEW_MM[axle],
                    wear_limit_mm=1.0, lower_kpa=150.0, upper_kpa=290.0,
                )
                for axle, size in (("front", "120/70 ZR17 M/C (58W)"), ("rear", "190/55 ZR17 M/C (75W)"))
            }
        )  # fmt: skip
    return made


def judge(paddock: Paddock, *, at: datetime) -> None:
    """Store what was assessed of every tire: each third rear one is near its end, and every tenth rider's is on hold."""
    Assessment.objects.bulk_create(
        Assessment(
            tire=tire, assessed_at=at, assessed_on=at.date(), tire_revision=tire.revision, state=state,
            binding_limit="tread", remaining_days_10=0.5, remaining_days_50=1.5, remaining_days_90=3.0,
            chance_next_day=0.6, distance_km=300.0, road_km=0.0, heat_cycles=8, days_run=4, depth_mm=2.1,
            depth_zone="C", age_years=0.5, readings=3, provenance={},
        )
        for n, both in enumerate(paddock.tires)
        for axle, tire in both.items()
        for state in ["last day" if axle == "rear" and n % 3 == 0 else "in service"]
    )  # fmt: skip
    Hold.objects.bulk_create(
        Hold(
            tire=both["front"], placed_for=paddock.day.event.organiser, reason="inspection", placed_at=at,
            note="Cord shows.", recorded_at=at,
        )
        for both in paddock.tires[::10]
    )  # fmt: skip
