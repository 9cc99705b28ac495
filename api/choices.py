"""Names of the fixed lists in the OpenAPI document: by what is chosen, so that a generated client reads well."""

from typing import Any, Final

from drf_spectacular.hooks import postprocess_schema_enums
from drf_spectacular.settings import spectacular_settings

NAMES: Final = {
    "TireStateEnum": "fleet.life.models.State",
    "TicketStateEnum": "fleet.inventory.models.JobTicket.State",
    "StandingEnum": "fleet.events.models.Standing",
    "HoldReasonEnum": "fleet.inventory.models.Hold.Reason",
    "RemovalReasonEnum": "fleet.inventory.models.Removal.Reason",
    "InstrumentKindEnum": "fleet.garage.models.Instrument.Kind",
    "MovementKindEnum": "fleet.inventory.models.StockMovement.Kind",
    "BatchItemStatusEnum": "api.batches.STATUSES",
    "PressureMomentEnum": "fleet.running.models.PressureReading.Moment",
    "ShapeQuantityEnum": "fleet.running.models.ShapeReading.Quantity",
    "AdjustmentPartEnum": "fleet.running.models.Adjustment.Part",
    "PressureUseEnum": "fleet.catalogue.models.PressureSpec.Use",
    "TestStepStateEnum": "fleet.trials.models.Step.State",
    "TestStepWhatEnum": "fleet.trials.models.Step.What",
    "TestRunPurposeEnum": "fleet.trials.models.Run.Purpose",
    "SharingScopeEnum": "fleet.garage.models.Sharing.Scope",
    "TellingKindEnum": "fleet.notices.models.Kind",
    "KeyScopeEnum": "fleet.accounts.models.Scope",
    "WrittenMovementKindEnum": "api.v1.movements.WRITTEN_ALONE",
}


def name_choices(result: dict[str, Any], generator: Any, **context: Any) -> dict[str, Any]:
    """Take fixed lists out of the shapes that use them, each under its name."""
    spectacular_settings.apply_patches({"ENUM_NAME_OVERRIDES": NAMES})  # type: ignore[no-untyped-call]  # no types
    named: dict[str, Any] = postprocess_schema_enums(result, generator, **context)  # type: ignore[no-untyped-call]
    return named
