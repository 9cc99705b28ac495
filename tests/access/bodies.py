"""What is sent with each write: right in everything but, for some, who asks."""

from datetime import timedelta

from django.core.files.uploadedfile import SimpleUploadedFile

from tests.access.scene import Scene
from tests.api.world_trials import ACROSS, HEIGHTS
from tests.photos.pictures import png

AT = "2026-06-12T10:59:00Z"


def body_for(scene: Scene, who: str, label: str):
    """Return the body of one row of the table of the API."""
    if label not in _BODIES:
        return {}
    given = _BODIES[label](scene)
    named = {name: _id(scene, who, value) for name, value in given.items()}
    if "/batch" in label:
        return {"items": [named | {"key": "7d444840-9dc0-41d1-b245-5ffdce74fad2"}]}
    return named


def _id(scene, who, value):
    """Return the id of the row a value names by ``@noun``, or of whoever asks by ``@``."""
    if not isinstance(value, str) or not value.startswith("@"):
        return value
    oneself = scene.people.get(who) or scene.people["stranger"]
    return str(oneself.pk if value == "@" else scene.rows[value[1:]].pk)


def _always(**body):
    return lambda _scene: body


_READ = {"tire": "@tire", "taken_at": AT}
_WRONG = {"reason": "entered twice"}
_PRESSURE = _READ | {"moment": "later", "pressure_kpa": 210.0}
_TEMPERATURE = _READ | {"zone": "C", "surface_c": 61.0}
_TREAD = _READ | {"zone": "L1", "depth_mm": 4.7}
_SHAPE = _READ | {"quantity": "gap", "length_mm": 12.0}
_CONTOUR = _READ | {"x_mm": ACROSS, "z_mm": HEIGHTS}
_TEST = {
    "organisation": "@organiser",
    "code": "new",
    "bike": "@bike",
    "question": "Which rear lasts longer?",
    "planned_on": "2026-06-12",
    "baseline_front": "@front-spec",
    "baseline_rear": "@rear-spec",
    "baseline_pair": "@in-use",
    "candidate_front": "@front-spec",
    "candidate_rear": "@spec",
    "candidate_pair": "@in-use",
}
_NOTE = {
    "organisation": "@organiser",
    "spec": "@spec",
    "basis": "hot",
    "pressure_kpa": 219.0,
    "noted_on": "2026-06-12",
    "source": "a notebook",
}
_ADJUST = {"wheel_pair": "@in-use", "part": "rear_preload", "after": 5, "unit": "turns", "made_at": AT}
_LOOK = {"tire": "@tire", "look": "even", "seen_at": AT}
_FIT = {"wheel_pair": "@empty-pair", "axle": "front", "fitted_at": AT}
_STINT = {
    "wheel_pair": "@in-use",
    "started_at": "2026-06-12T09:00:00Z",
    "ended_at": "2026-06-12T09:20:00Z",
    "layout": "@layout",
    "laps": 8,
}
_OFF = {"removed_at": AT, "reason": "swap", "destination": "handed_back"}
_HOLD = {"tire": "@tire", "reason": "damage", "placed_at": AT}
_SIDEWALL = {"tire": "@tire", "identification": "0826", "read_at": AT}
_METAR = "METAR EGYM 121050Z 24008KT 9999 FEW030 22/12 Q1016"
_AIR = {"day": "@day", "holds_at": AT, "standing": "observed", "source": "thermometer", "air_c": 22.0}
_UNITS = {"pressure_unit": "bar", "temperature_unit": "C", "depth_unit": "mm", "distance_unit": "km"}


def _token(scene):
    return {"token": scene.rows["handover-token"]}


_BODIES = {
    "POST comparisons": _always(instrument="@own-gauge", own_kpa=212.0, master_kpa=210.0, compared_at=AT),
    "POST comparisons/{pk}/void": _always(**_WRONG),
    "POST handovers": _always(tire="@gift"),
    "POST handovers/accept": _token,
    "POST handovers/decline": _token,
    "PUT me/units": _always(**_UNITS),
    "PUT me/telling": _always(choices=[{"kind": "life", "on_page": True, "by_mail": True}]),
    "POST riders": _always(code="new", name="New Rider", registered_with="@organisation"),
    "POST riders (organiser)": _always(code="new", name="New Rider", registered_with="@organiser"),
    "POST riders (oneself)": _always(code="me", name="Me Myself", person="@"),
    "PATCH riders/{pk}": _always(contact="by the gate"),
    "POST bikes": _always(rider="@rider", code="new", description="750 sport"),
    "PATCH bikes/{pk}": _always(description="1000 naked"),
    "POST wheel-pairs": _always(bike="@bike", code="new", name="spare"),
    "PATCH wheel-pairs/{pk}": _always(name="intermediate"),
    "POST instruments": _always(code="new", name="Gauge", kind="pressure", organisation="@organisation"),
    "POST instruments (rider)": _always(code="new", name="Gauge", kind="pressure", rider="@rider"),
    "PATCH instruments/{pk}": _always(name="Old gauge"),
    "POST lots": _always(
        vendor="@organisation", spec="@front-spec", code="new", date_code="0826", quantity=2, received_at=AT
    ),
    "POST lots/{pk}/load": _always(quantity=-1, loaded_at=AT),
    "POST movements": _always(
        lot="@lot", kind="counted", place="trailer", quantity=1, moved_at=AT, reason="found one"
    ),
    "POST tires (own)": _always(rider="@rider", spec="@front-spec"),
    "POST tires (vendor)": _always(rider="@rider", spec="@front-spec", vendor="@organisation"),
    "POST reservations": lambda scene: {
        "rider": "@rider",
        "vendor": "@organisation",
        "spec": "@front-spec",
        "quantity": 1,
        "wanted_on": str(scene.now.date()),
    },
    "POST reservations/{pk}/end": _always(reason="none came in"),
    "POST tickets": _always(vendor="@organisation", wheel_pair="@in-use", opened_on="2026-06-12"),
    "PATCH tickets/{pk}": _always(wish="front only"),
    "POST tickets/{pk}/state": _always(state="on_machine"),
    "POST fittings (lot)": _always(**_FIT, lot="@lot"),
    "POST fittings (own)": _always(**_FIT, tire="@spare-tire"),
    "POST fittings (vendor)": _always(**_FIT, tire="@spare-tire", vendor="@organisation"),
    "POST fittings/batch": _always(**_FIT, lot="@lot"),
    "POST fittings/replace": _always(
        wheel_pair="@wheel-pair", axle="front", fitted_at=AT, lot="@lot", reason="worn", destination="kept"
    ),
    "POST fittings/{pk}/removal (own)": _always(**_OFF),
    "POST fittings/{pk}/removal (vendor)": _always(**_OFF, vendor="@organisation"),
    "POST fittings/{pk}/void": _always(**_WRONG),
    "POST removals/{pk}/void (own)": _always(**_WRONG),
    "POST removals/{pk}/void (vendor)": _always(**_WRONG, vendor="@organisation"),
    "POST holds (vendor)": _always(**_HOLD, placed_for="@organisation"),
    "POST holds (inspection)": _always(**_HOLD, placed_for="@organiser"),
    "POST holds/{pk}/lift": _always(reason="looked at the carcass"),
    "POST inspections": _always(
        tire="@tire", inspected_for="@organiser", outcome="advise", words="worn", inspected_at=AT
    ),
    "POST inspections (photo)": lambda _scene: {
        "tire": "@tire",
        "inspected_for": "@organiser",
        "outcome": "advise",
        "words": "worn",
        "inspected_at": AT,
        "photo": SimpleUploadedFile("worn.png", png(8, 8)),
    },
    "POST inspections/{pk}/void": _always(**_WRONG),
    "POST recalls": _always(
        entered_for="@organisation",
        reference="W-900",
        issued_by="Mirrin",
        published_on="2026-06-11",
        spec="@spec",
        first_code="0126",
        last_code="0226",
        what_to_do="Do not ride on it.",
    ),
    "POST recalls/{pk}/lift": _always(reason="taken back"),
    "POST recalls/{pk}/void": _always(**_WRONG),
    "POST recalls/{pk}/contacts": _always(rider="@rider", told_for="@organisation", way="phone", told_at=AT),
    "POST sidewalls (vendor)": _always(**_SIDEWALL, read_for="@organisation"),
    "POST sidewalls (inspection)": _always(**_SIDEWALL, read_for="@organiser"),
    "POST events": _always(organiser="@organiser", code="new", name="New event"),
    "PATCH events/{pk}": _always(name="Another name"),
    "POST days": lambda scene: {
        "event": "@event",
        "date": str(scene.now.date() + timedelta(days=7)),
        "layout": "@layout",
    },
    "PATCH days/{pk}": lambda scene: {"date": str(scene.now.date())},
    "POST groups": _always(event="@event", name="Slow"),
    "PATCH groups/{pk}": _always(usual_lap_s=111.0),
    "POST slots": _always(
        day="@day", group="@group", starts_at="2026-06-12T14:00:00Z", ends_at="2026-06-12T14:20:00Z"
    ),
    "PATCH slots/{pk}": _always(ends_at="2026-06-12T11:55:00Z"),
    "POST entries": _always(day="@day", bike="@second-bike", group="@group", number="55"),
    "POST entries (open)": _always(day="@open-day", bike="@second-bike", group="@open-group", number="55"),
    "PATCH entries/{pk}": _always(number="56"),
    "POST conditions": _always(**_AIR),
    "POST conditions/metar": _always(day="@day", metar=_METAR),
    "POST conditions/{pk}/void": _always(**_WRONG),
    "POST stints": _always(**_STINT),
    "POST stints/batch": _always(**_STINT),
    "POST stints/{pk}/void": _always(**_WRONG),
    "POST pressures (own)": _always(**_PRESSURE),
    "POST pressures (vendor)": _always(**_PRESSURE, vendor="@organisation"),
    "POST pressures/batch": _always(**_PRESSURE),
    "POST pressures/{pk}/void": _always(**_WRONG),
    "POST temperatures (own)": _always(**_TEMPERATURE),
    "POST temperatures (vendor)": _always(**_TEMPERATURE, vendor="@organisation"),
    "POST temperatures/batch": _always(**_TEMPERATURE),
    "POST temperatures/{pk}/void": _always(**_WRONG),
    "POST treads (own)": _always(**_TREAD),
    "POST treads (vendor)": _always(**_TREAD, vendor="@organisation"),
    "POST treads/batch": _always(**_TREAD),
    "POST treads/{pk}/void": _always(**_WRONG),
    "POST shapes (own)": _always(**_SHAPE),
    "POST shapes (tester)": _always(**_SHAPE, vendor="@organiser"),
    "POST contours (tester)": _always(**_CONTOUR, vendor="@organiser"),
    "POST shapes (vendor)": _always(**_SHAPE, vendor="@organisation"),
    "POST shapes/batch": _always(**_SHAPE),
    "POST shapes/{pk}/void": _always(**_WRONG),
    "POST contours (own)": _always(**_CONTOUR),
    "POST contours (vendor)": _always(**_CONTOUR, vendor="@organisation"),
    "POST contours/batch": _always(**_CONTOUR),
    "POST contours/{pk}/void": _always(**_WRONG),
    "POST tire-tests": _always(**_TEST),
    "PATCH tire-tests/{pk}": _always(held_constant="fuel"),
    "POST tire-tests/{pk}/judge": _always(verdict="Both go well.", judged_on="2026-06-12"),
    "POST tire-tests/{pk}/end": _always(ended_on="2026-06-12"),
    "POST reference-notes": _always(**_NOTE),
    "PATCH reference-notes/{pk}": _always(track_name="Marram Point Circuit"),
    "POST test-steps": _always(test="@tire-test", words="look at the tread"),
    "PATCH test-steps/{pk}": _always(state="done"),
    "POST test-steps/{pk}/move": _always(earlier=True),
    "POST test-runs": _always(test="@tire-test", stint="@free-stint", purpose="settle"),
    "POST test-runs/{pk}/void": _always(**_WRONG),
    "POST adjustments": _always(**_ADJUST),
    "POST adjustments/batch": _always(**_ADJUST),
    "POST adjustments/{pk}/void": _always(**_WRONG),
    "POST sharings": _always(organisation="@organisation", scope="stints"),
    "POST invitations": _always(rider="@walk-in"),
    "POST feel-notes": _always(stint="@stint", feel="good"),
    "POST feel-notes/{pk}/void": _always(**_WRONG),
    "POST surface-notes (own)": _always(**_LOOK),
    "POST surface-notes (vendor)": _always(**_LOOK, vendor="@organisation"),
    "POST surface-notes (tester)": _always(**_LOOK, vendor="@organiser"),
    "POST surface-notes (photo)": lambda _scene: _LOOK | {"photo": SimpleUploadedFile("even.png", png(8, 8))},
    "POST surface-notes/{pk}/void": _always(**_WRONG),
    "POST advice-answers": _always(stint="@stint", advised="leave it", answer="done"),
    "POST advice-answers/{pk}/void": _always(**_WRONG),
    "POST cycle-corrections": lambda scene: {
        "tire": str(scene.rows["pressure"].tire_id),
        "stint": "@stint",
    },
    "POST cycle-corrections/{pk}/void": _always(**_WRONG),
    "POST bulletins/{pk}/withdraw": _always(reason="wrong air"),
}
