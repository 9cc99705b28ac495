"""The index: every address of version 1."""

from pathlib import Path

from django.contrib.auth.decorators import login_not_required
from django.http import FileResponse, HttpRequest
from django.urls import path
from django.views.decorators.http import require_safe
from rest_framework.routers import SimpleRouter

from api.v1.adjustments import AdjustmentView
from api.v1.advice_answers import AdviceAnswerView
from api.v1.assessments import AssessmentView, FlagView
from api.v1.bikes import BikeView
from api.v1.bulletins import BulletinView, PublicBulletinView
from api.v1.catalogue import LineView, PressureSpecView, SpecView
from api.v1.changes import ChangeView
from api.v1.comparisons import ComparisonView
from api.v1.conditions import ConditionsView
from api.v1.contours import ContourView
from api.v1.cycle_corrections import CycleCorrectionView
from api.v1.days import DayView
from api.v1.entries import EntryView
from api.v1.events import EventView
from api.v1.feel_notes import FeelNoteView
from api.v1.fittings import FittingView
from api.v1.groups import GroupView, SlotView
from api.v1.handovers import HandoverView
from api.v1.holds import HoldView
from api.v1.inspections import InspectionView
from api.v1.instruments import InstrumentView
from api.v1.invitations import InvitationView
from api.v1.keys import ApiKeyView
from api.v1.lots import LotView
from api.v1.me import MeView
from api.v1.memberships import MembershipView
from api.v1.movements import MovementView
from api.v1.notices import NoticeView
from api.v1.offers import OfferView
from api.v1.organisations import OrganisationNameView, OrganisationView
from api.v1.photos import PhotoView
from api.v1.pressures import PressureView
from api.v1.problems import ProblemView
from api.v1.recalls import RecallView
from api.v1.reference_notes import ReferenceNoteView
from api.v1.removals import RemovalView
from api.v1.reservations import ReservationView
from api.v1.riders import RiderView
from api.v1.runs import TestRunView
from api.v1.shapes import ShapeView
from api.v1.sharings import SharingView
from api.v1.sidewalls import SidewallView
from api.v1.steps import TestStepView
from api.v1.stints import StintView
from api.v1.surface_notes import SurfaceNoteView
from api.v1.telling import TellingView
from api.v1.temperatures import TemperatureView
from api.v1.tickets import TicketView
from api.v1.tire_tests import TireTestView
from api.v1.tires import TireView
from api.v1.tracks import LayoutView, TrackView
from api.v1.treads import TreadView
from api.v1.wheel_pairs import WheelPairView

DOCUMENT = Path(__file__).with_name("openapi.yaml")

router = SimpleRouter(trailing_slash=False)
router.register("organisations", OrganisationView, basename="organisation")
router.register("organisation-names", OrganisationNameView, basename="organisation-name")
router.register("memberships", MembershipView, basename="membership")
router.register("keys", ApiKeyView, basename="key")
router.register("lines", LineView, basename="line")
router.register("specs", SpecView, basename="spec")
router.register("pressure-specs", PressureSpecView, basename="pressure-spec")
router.register("reference-notes", ReferenceNoteView, basename="reference-note")
router.register("tracks", TrackView, basename="track")
router.register("layouts", LayoutView, basename="layout")
router.register("riders", RiderView, basename="rider")
router.register("bikes", BikeView, basename="bike")
router.register("wheel-pairs", WheelPairView, basename="wheel-pair")
router.register("instruments", InstrumentView, basename="instrument")
router.register("comparisons", ComparisonView, basename="comparison")
router.register("sharings", SharingView, basename="sharing")
router.register("invitations", InvitationView, basename="invitation")
router.register("lots", LotView, basename="lot")
router.register("movements", MovementView, basename="movement")
router.register("offers", OfferView, basename="listing")
router.register("reservations", ReservationView, basename="reservation")
router.register("tires", TireView, basename="tire")
router.register("handovers", HandoverView, basename="handover")
router.register("tickets", TicketView, basename="ticket")
router.register("fittings", FittingView, basename="fitting")
router.register("removals", RemovalView, basename="removal")
router.register("holds", HoldView, basename="hold")
router.register("inspections", InspectionView, basename="inspection")
router.register("photos", PhotoView, basename="photo")
router.register("recalls", RecallView, basename="recall")
router.register("sidewalls", SidewallView, basename="sidewall")
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
router.register("shapes", ShapeView, basename="shape")
router.register("contours", ContourView, basename="contour")
router.register("adjustments", AdjustmentView, basename="adjustment")
router.register("feel-notes", FeelNoteView, basename="feel-note")
router.register("surface-notes", SurfaceNoteView, basename="surface-note")
router.register("advice-answers", AdviceAnswerView, basename="advice-answer")
router.register("cycle-corrections", CycleCorrectionView, basename="cycle-correction")
router.register("tire-tests", TireTestView, basename="tire-test")
router.register("test-steps", TestStepView, basename="test-step")
router.register("test-runs", TestRunView, basename="test-run")
router.register("assessments", AssessmentView, basename="assessment")
router.register("flags", FlagView, basename="flag")
router.register("bulletins", BulletinView, basename="bulletin")
router.register("changes", ChangeView, basename="change")
router.register("notices", NoticeView, basename="notice")
router.register("public/bulletins", PublicBulletinView, basename="public-bulletin")
router.register("problems", ProblemView, basename="problem")


@login_not_required
@require_safe
def document(_request: HttpRequest) -> FileResponse:
    """Serve the OpenAPI document as committed."""
    return FileResponse(DOCUMENT.open("rb"), content_type="application/yaml")


urlpatterns = [
    path("openapi.yaml", document, name="openapi"),
    path("me", MeView.as_view({"get": "retrieve"}, basename="me"), name="me"),
    path("me/units", MeView.as_view({"put": "units"}, basename="me"), name="me-units"),
    path(
        "me/telling",
        TellingView.as_view({"get": "retrieve", "put": "choose"}, basename="me"),
        name="me-telling",
    ),
    *router.urls,
]
