"""Who takes part: organisations, staff, and riders with their bikes, wheels, gauges and hidden habits."""

from dataclasses import dataclass
from typing import Final, TypeAlias

from fleet.demo.names import RIDERS, STAFF, address
from fleet.demo.products import SOURCE
from fleet.demo.scene import Scene, midnight, minutes
from fleet.science.practice import RISE_SD_C, RISE_SHARES, WEAR_SHARES, WEAR_SIGMA

Choice: TypeAlias = tuple[str, str]
WITHOUT_ACCOUNT_EVERY: Final = 10
MASTER_KPA: Final = 200.0
GAUGE_STEPS_KPA: Final = (1.0, 2.0, 3.5)

# class of bike: front and rear rim in inches, choices of front and rear spec by pace group
BIKES: Final[dict[str, tuple[float, float, dict[int, tuple[Choice, ...]]]]] = {
    "300 single": (2.75, 4.0, dict.fromkeys(range(2), (("alder-td-f110", "alder-td-r140"),))),
    "600 sport": (
        3.5,
        5.5,
        {
            0: (("alder-rd-f", "alder-rd-r180"), ("alder-td-f", "alder-td-r180")),
            1: (("alder-td-f", "alder-td-r180"), ("lowmoor-td-f", "lowmoor-td-r180")),
            2: (("lowmoor-td-f", "lowmoor-td-r180"), ("strake-r-f", "strake-r-r180")),
            3: (("strake-r-f", "strake-r-r180"),),
        },
    ),
    "800 twin": (
        3.5,
        5.5,
        {
            0: (("alder-rd-f", "alder-rd-r180"),),
            1: (("alder-td-f", "alder-td-r180"), ("lowmoor-td-f", "lowmoor-td-r180")),
            2: (("lowmoor-td-f", "lowmoor-td-r180"),),
            3: (("strake-r-f", "strake-r-r180"),),
        },
    ),
    "1000 sport": (
        3.5,
        6.0,
        {
            0: (("alder-td-f", "alder-td-r190"),),
            1: (("alder-td-f", "alder-td-r190"), ("lowmoor-td-f", "lowmoor-td-r190")),
            2: (("lowmoor-td-f", "lowmoor-td-r190"), ("strake-r-f", "strake-r-r200")),
            3: (("strake-r-f", "strake-r-r200"), ("strake-s-f", "strake-s-r200")),
        },
    ),
}
CLASSES: Final = ("600 sport", "1000 sport", "800 twin", "1000 sport", "600 sport", "300 single")


@dataclass(frozen=True)
class Gauge:
    """A rider's pressure gauge: its step and how far it really reads off."""

    code: str
    step_kpa: float
    offset_kpa: float


@dataclass(frozen=True)
class Entrant:
    """A rider as the service knows them, and the habits it has to find out."""

    index: int
    group: int
    front: str
    rear: str
    vendor: str
    gauge: Gauge
    effort: float
    wanted_off_kpa: float
    rise_off_c: float
    wear_log: float
    stretches_mm: float
    uses_warmers: bool
    has_wets: bool

    @property
    def code(self) -> str:
        """Return the rider's code."""
        return f"r-{self.index + 1:03d}"

    @property
    def bike(self) -> str:
        """Return the bike's code."""
        return f"b-{self.index + 1:03d}"

    def pair(self, name: str) -> str:
        """Return the code of a wheel pair."""
        return f"w-{self.index + 1:03d}-{name}"


def add_cast(scene: Scene) -> list[Entrant]:
    """Add organisations, people, riders and what they own, and return the riders."""
    contact = SOURCE
    for code, name, is_vendor in (
        ("tarn", "Tarn Tire Service", True),
        ("breckside", "Breckside Wheel Works", True),
        ("longfield", "Longfield Track Days", False),
    ):
        scene.add(
            "organisations",
            code=code,
            name=name,
            is_vendor=is_vendor,
            is_organiser=not is_vendor,
            contact=contact,
            currency="GBP" if is_vendor else "",
        )
    for email, name, roles, _what in STAFF:
        scene.add("people", email=email, name=name, roles=roles)
    for vendor in ("tarn", "breckside"):
        for kind, what in (("pressure", "trailer gauge"), ("depth", "tread gauge")):
            scene.add(
                "instruments",
                code=f"{vendor}-{kind}",
                name=f"{what} of {vendor}",
                kind=kind,
                organisation=vendor,
                step_kpa=1.0 if kind == "pressure" else None,
                compared_on=scene.day(-130),
            )
    return [_add_rider(scene, index) for index in range(len(RIDERS))]


def _add_rider(scene: Scene, index: int) -> Entrant:
    bike_class = CLASSES[index % len(CLASSES)]
    entrant = _drawn(scene, index, bike_class)
    has_account = index % WITHOUT_ACCOUNT_EVERY != WITHOUT_ACCOUNT_EVERY - 1
    if has_account:
        scene.add("people", email=address(index), name=RIDERS[index])
    scene.add(
        "riders",
        code=entrant.code,
        name=RIDERS[index],
        contact=SOURCE,
        registered_with=entrant.vendor,
        email=address(index) if has_account else None,
    )
    _add_bike(scene, entrant, bike_class)
    _add_gauge(scene, entrant)
    if scene.chance(0.35):
        scene.add(
            "sharings",
            rider=entrant.code,
            organisation=scene.pick(("tarn", "longfield")),
            scope="stints",
            granted_at=midnight(scene.day(-119)),
            withdrawn_at=midnight(scene.day(-40)) if scene.chance(0.1) else None,
        )
    return entrant


def _drawn(scene: Scene, index: int, bike_class: str) -> Entrant:
    """Return a rider with habits drawn by chance; the first one is in the fast group."""
    group = 2 if index == 0 else int(scene.rng.choice(4, p=(0.25, 0.33, 0.27, 0.15)))
    if bike_class == "300 single":
        group = min(group, 1)
    front, rear = scene.pick(BIKES[bike_class][2][group])
    return Entrant(
        index=index,
        group=group,
        front=front,
        rear=rear,
        vendor="tarn" if scene.chance(0.7) or index == 0 else "breckside",
        gauge=Gauge(f"g-{index + 1:03d}", scene.pick(GAUGE_STEPS_KPA), round(scene.about(0, 3.0), 1)),
        effort=min(max(scene.about(0.78 + 0.04 * group, 0.04), 0.6), 1.0),
        wanted_off_kpa=scene.about(0, 6.0),
        rise_off_c=scene.about(0, RISE_SD_C * RISE_SHARES["rider"]),
        wear_log=scene.about(0, WEAR_SIGMA * WEAR_SHARES["rider"]),
        stretches_mm=scene.between(0.1, 0.7),
        uses_warmers=group == 3 and scene.chance(0.7),  # noqa: PLR2004 -- the advanced group
        has_wets=bike_class == "1000 sport" and scene.chance(0.6),
    )


def _add_bike(scene: Scene, entrant: Entrant, bike_class: str) -> None:
    front_rim, rear_rim, _ = BIKES[bike_class]
    scene.add(
        "bikes",
        rider=entrant.code,
        code=entrant.bike,
        description=bike_class,
        wheelbase_mm=round(scene.between(1375, 1440)),
        rake_deg=round(scene.between(23.0, 25.5), 1),
        fork_offset_mm=round(scene.between(26, 32)),
        front_rim_in=front_rim,
        rear_rim_in=rear_rim,
    )
    scene.add("wheel_pairs", bike=entrant.bike, code=entrant.pair("dry"), name="dry", is_in_use=True)
    if entrant.has_wets:
        scene.add("wheel_pairs", bike=entrant.bike, code=entrant.pair("wet"), name="wet", is_in_use=False)


def _add_gauge(scene: Scene, entrant: Entrant) -> None:
    was_compared = scene.chance(0.6)
    offset_kpa = round(entrant.gauge.offset_kpa + scene.about(0, 0.5), 1) if was_compared else 0.0
    scene.add(
        "instruments",
        code=entrant.gauge.code,
        name="own gauge",
        kind="pressure",
        rider=entrant.code,
        step_kpa=entrant.gauge.step_kpa,
        offset_kpa=offset_kpa,
        compared_on=scene.day(-121) if was_compared else None,
    )
    if was_compared:
        compared_at = midnight(scene.day(-121)) + minutes(9 * 60 + entrant.index)
        scene.fact(
            "comparisons",
            recorded_at=compared_at,
            instrument=entrant.gauge.code,
            master=f"{entrant.vendor}-pressure",
            own_kpa=round(MASTER_KPA + offset_kpa, 1),
            master_kpa=MASTER_KPA,
            offset_kpa=offset_kpa,
            compared_at=compared_at,
        )
