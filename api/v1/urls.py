"""The index: every address of version 1."""

from pathlib import Path

from django.contrib.auth.decorators import login_not_required
from django.http import FileResponse, HttpRequest
from django.urls import path
from django.views.decorators.http import require_safe
from rest_framework.routers import SimpleRouter

from api.v1.assessments import AssessmentView, FlagView
from api.v1.bikes import BikeView
from api.v1.bulletins import BulletinView, PublicBulletinView
from api.v1.catalogue import LineView, PressureSpecView, SpecView
from api.v1.conditions import ConditionsView
from api.v1.days import DayView
from api.v1.entries import EntryView
from api.v1.events import EventView
from api.v1.feel_notes import FeelNoteView
from api.v1.fittings import FittingView
from api.v1.groups import GroupView, SlotView
from api.v1.holds import HoldView
from api.v1.instruments import InstrumentView
from api.v1.lots import LotView
from api.v1.me import MeView
from api.v1.movements import MovementView
from api.v1.organisations import OrganisationView
from api.v1.pressures import PressureView
from api.v1.problems import ProblemView
from api.v1.removals import RemovalView
from api.v1.riders import RiderView
from api.v1.stints import StintView
from api.v1.surface_notes import SurfaceNoteView
from api.v1.temperatures import TemperatureView
from api.v1.tickets import TicketView
from api.v1.tires import TireView
from api.v1.tracks import LayoutView, TrackView
from api.v1.treads import TreadView
from api.v1.wheel_pairs import WheelPairView

DOCUMENT = Path(__file__).with_name("openapi.yaml")

router = SimpleRouter(trailing_slash=False)
router.register("organisations", OrganisationView, basename="organisation")
router.register("lines", LineView, basename="line")
router.register("specs", SpecView, basename="spec")
router.register("pressure-specs", PressureSpecView, basename="pressure-spec")
router.register("tracks", TrackView, basename="track")
router.register("layouts", LayoutView, basename="layout")
router.register("riders", RiderView, basename="rider")
router.register("bikes", BikeView, basename="bike")
router.register("wheel-pairs", WheelPairView, basename="wheel-pair")
router.register("instruments", InstrumentView, basename="instrument")
router.register("lots", LotView, basename="lot")
router.register("movements", MovementView, basename="movement")
router.register("tires", TireView, basename="tire")
router.register("tickets", TicketView, basename="ticket")
router.register("fittings", FittingView, basename="fitting")
router.register("removals", RemovalView, basename="removal")
router.register("holds", HoldView, basename="hold")
router.register("events", EventView, basename="event")
router.register("days", DayView, basename="day")
router.register("groups", GroupView, basename="group")
router.register("slots", SlotView, basename="slot")
router.register("entries", EntryView, basename="entry")
router.register("conditions", ConditionsView, basename="conditions")
router.register("stints", StintView, basename="stint")
router.register("pressures", PressureView, basename="pressure")
router.register("treads", TreadView, basename="tread")
router.register("temperatures", TemperatureView, basename="temperature")
router.register("feel-notes", FeelNoteView, basename="feel-note")
router.register("surface-notes", SurfaceNoteView, basename="surface-note")
router.register("assessments", AssessmentView, basename="assessment")
router.register("flags", FlagView, basename="flag")
router.register("bulletins", BulletinView, basename="bulletin")
router.register("public/bulletins", PublicBulletinView, basename="public-bulletin")
router.register("problems", ProblemView, basename="problem")


@login_not_required
@require_safe
def document(_request: HttpRequest) -> FileResponse:
    """Serve the OpenAPI document as committed."""
    return FileResponse(DOCUMENT.open("rb"), content_type="application/yaml")


urlpatterns = [
    path("openapi.yaml", document, name="openapi"),
    path("me", MeView.as_view({"get": "retrieve"}), name="me"),
    path("me/units", MeView.as_view({"put": "units"}), name="me-units"),
    *router.urls,
]
