"""Invented makers, lines and specs, with what they publish and what riders report."""

from dataclasses import dataclass
from typing import Final

from fleet.demo.scene import Scene
from fleet.science.practice import Practice, practice

FRONT_17: Final = "120/70 ZR17 M/C (58W)"
REAR_180: Final = "180/55 ZR17 M/C (73W)"
REAR_190: Final = "190/55 ZR17 M/C (75W)"
REAR_200: Final = "200/55 ZR17 M/C (78W)"
FRONT_SMALL: Final = "110/70 R17 M/C 54H"
REAR_SMALL: Final = "140/70 R17 M/C 66H"
SOURCE: Final = "invented for the demo"


@dataclass(frozen=True)
class Line:
    """A family of tires."""

    maker: str
    name: str
    category: str
    carcass: str


@dataclass(frozen=True)
class Spec:
    """A tire one can order."""

    code: str
    line: Line
    axle: str
    size: str
    cost: float
    compound: str = ""

    @property
    def known(self) -> Practice:
        """Return what is common practice for its kind."""
        return practice(self.line.category, self.line.carcass, self.axle)


ALDER_RD: Final = Line("Corvane", "Alder RD", "road_sport", "medium")
ALDER_TD: Final = Line("Corvane", "Alder TD", "track_day", "medium")
STRAKE_R: Final = Line("Halvick", "Strake R", "race_treaded", "stiff")
STRAKE_S: Final = Line("Halvick", "Strake S", "slick", "stiff")
LOWMOOR: Final = Line("Mirrin", "Lowmoor TD", "track_day", "soft")
RILL: Final = Line("Mirrin", "Rill W", "wet", "medium")
LINES: Final = (ALDER_RD, ALDER_TD, STRAKE_R, STRAKE_S, LOWMOOR, RILL)

SPECS: Final = (
    Spec("alder-rd-f", ALDER_RD, "front", FRONT_17, 96.0),
    Spec("alder-rd-r180", ALDER_RD, "rear", REAR_180, 128.0),
    Spec("alder-td-f", ALDER_TD, "front", FRONT_17, 108.0),
    Spec("alder-td-r180", ALDER_TD, "rear", REAR_180, 141.0),
    Spec("alder-td-r190", ALDER_TD, "rear", REAR_190, 149.0),
    Spec("alder-td-f110", ALDER_TD, "front", FRONT_SMALL, 74.0),
    Spec("alder-td-r140", ALDER_TD, "rear", REAR_SMALL, 88.0),
    Spec("strake-r-f", STRAKE_R, "front", FRONT_17, 131.0, "M"),
    Spec("strake-r-r180", STRAKE_R, "rear", REAR_180, 168.0, "M"),
    Spec("strake-r-r200", STRAKE_R, "rear", REAR_200, 182.0, "M"),
    Spec("strake-s-f", STRAKE_S, "front", FRONT_17, 139.0, "S1"),
    Spec("strake-s-r200", STRAKE_S, "rear", REAR_200, 189.0, "S1"),
    Spec("lowmoor-td-f", LOWMOOR, "front", FRONT_17, 112.0),
    Spec("lowmoor-td-r180", LOWMOOR, "rear", REAR_180, 147.0),
    Spec("lowmoor-td-r190", LOWMOOR, "rear", REAR_190, 155.0),
    Spec("rill-w-f", RILL, "front", FRONT_17, 118.0),
    Spec("rill-w-r190", RILL, "rear", REAR_190, 152.0),
)
BY_CODE: Final = {spec.code: spec for spec in SPECS}

# maker's figure by line: axle, basis, use, kPa, degrees C it refers to
PUBLISHED: Final = {
    ALDER_RD: (
        ("front", "cold", "track", 205.0, 20.0),
        ("rear", "cold", "track", 195.0, 20.0),
        ("front", "cold", "road", 250.0, 20.0),
        ("rear", "cold", "road", 290.0, 20.0),
    ),
    ALDER_TD: (
        ("front", "hot", "track", 228.0, None),
        ("rear", "hot", "track", 218.0, None),
        ("front", "cold", "track", 200.0, 20.0),
        ("rear", "cold", "track", 185.0, 20.0),
    ),
    STRAKE_R: (("front", "hot", "track", 226.0, None), ("rear", "hot", "track", 200.0, None)),
    STRAKE_S: (
        ("front", "off_warmers", "track", 214.0, 80.0),
        ("rear", "off_warmers", "track", 172.0, 80.0),
        ("front", "hot", "track", 228.0, None),
        ("rear", "hot", "track", 192.0, None),
    ),
    RILL: (("front", "cold", "track", 212.0, 20.0), ("rear", "cold", "track", 202.0, 20.0)),
}

# spec, basis, kPa, air, track surface, pace, days before today
REPORTED: Final = (
    ("lowmoor-td-f", "cold", 200.0, 38.0, 55.0, "fast group", 310),
    ("lowmoor-td-r190", "cold", 186.0, 38.0, 55.0, "fast group", 310),
    ("lowmoor-td-f", "hot", 231.0, 22.0, 34.0, "middle group", 200),
    ("lowmoor-td-r190", "hot", 222.0, 22.0, 34.0, "middle group", 200),
    ("lowmoor-td-r180", "hot", 219.0, 19.0, 29.0, "middle group", 160),
    ("lowmoor-td-f", "cold", 203.0, 16.0, None, "", 150),
    ("strake-s-r200", "hot", 188.0, 24.0, 38.0, "racer", 240),
)


def add_products(scene: Scene) -> None:
    """Add lines, specs, published pressures and reference notes."""
    for line in LINES:
        scene.add("lines", maker=line.maker, name=line.name, category=line.category, carcass=line.carcass)
    for spec in SPECS:
        known = spec.known
        scene.add(
            "specs",
            maker=spec.line.maker,
            line=spec.line.name,
            code=spec.code,
            axle=spec.axle,
            size=spec.size,
            compound=spec.compound,
            new_depth_mm=known.new_depth_mm,
            wear_limit_mm=known.wear_limit_mm,
            lower_kpa=known.lower_kpa,
            upper_kpa=known.upper_kpa,
            heat_cycle_limit=12 if spec.line is STRAKE_S else None,
            is_road_legal=spec.line.category not in {"slick", "wet"},
        )
    _add_published(scene)
    _add_reported(scene)


def _add_published(scene: Scene) -> None:
    for line, published in PUBLISHED.items():
        for axle, basis, use, pressure_kpa, reference_c in published:
            scene.add(
                "pressure_specs",
                maker=line.maker,
                line=line.name,
                axle=axle,
                basis=basis,
                use=use,
                pressure_kpa=pressure_kpa,
                reference_c=reference_c,
                published_by=f"{line.maker}, {SOURCE}",
            )


def _add_reported(scene: Scene) -> None:
    for code, basis, pressure_kpa, air_c, track_c, pace, days in REPORTED:
        scene.add(
            "reference_notes",
            spec=code,
            basis=basis,
            pressure_kpa=pressure_kpa,
            air_c=air_c,
            track_surface_c=track_c,
            track_name="Marram Point Circuit",
            pace=pace,
            noted_on=scene.day(-days),
            source=f"a paddock conversation, {SOURCE}",
        )
