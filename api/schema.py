"""The OpenAPI document: every refusal an operation may answer with, units said in words, one way to sign in."""

from collections.abc import Callable
from typing import Any, Final, TypeVar

from django.conf import settings
from drf_spectacular import openapi
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.utils import extend_schema
from rest_framework import serializers

from api.errors import MEDIA_TYPE

F = TypeVar("F", bound=Callable[..., Any])

UNITS: Final = {
    "_kpa": "kPa gauge: above the air outside",
    "_c": "degrees Celsius",
    "_mm": "mm",
    "_km": "km",
    "_m": "m",
    "_min": "minutes",
    "_s": "seconds",
    "_deg": "degrees of angle",
    "_in": "inches, as rim widths are stamped",
    "_years": "years",
}
IN_WORDS: Final = {
    "barometer_kpa": "kPa absolute, at the track itself",
    "altimeter_kpa": "kPa: the altimeter setting (QNH), reduced to sea level",
    "moved_kpa": "kPa: change against the guidance before",
    "step_kpa": "kPa: the smallest step the gauge shows",
    "offset_kpa": "kPa: reading minus truth",
    "effort": "share of the rider's own full pace, 0.3 to 1.1",
    "cloud_fraction": "share of the sky under cloud, 0 to 1",
    "chance_next_day": "probability, 0 to 1, of lasting the rider's next day on track",
    "remaining_days_10": "days on track left: one in ten tires lasts no longer",
    "remaining_days_50": "days on track left: the middle of what is expected",
    "remaining_days_90": "days on track left: one in ten tires lasts longer",
    "minutes_since_in": "minutes between coming in and the hot readings",
}
_READ: Final = {
    "401": "Nobody is signed in.",
    "403": "The role is too small.",
    "404": "Nothing like that here for the person who asks.",
    "406": "Answers are JSON only.",
    "422": "A value that cannot be right.",
}
_WRITE: Final = _READ | {
    "400": "The body is not readable JSON.",
    "409": "The present state of things does not allow it.",
    "415": "Bodies are JSON only.",
}


class ProblemOut(serializers.Serializer[Any]):
    """A refusal (RFC 9457): nothing was written."""

    type = serializers.CharField(help_text="Address of what this kind of refusal means.")
    title = serializers.CharField(help_text="The kind of refusal, in general.")
    status = serializers.IntegerField(help_text="The HTTP status, once more.")
    detail = serializers.CharField(help_text="What is wrong here, and what would be right.")
    code = serializers.CharField(help_text="The kind of refusal, stable, for programs.")
    errors = serializers.DictField(  # type: ignore[assignment]  # a field, taken off the class by the framework
        child=serializers.ListField(child=serializers.CharField()), help_text="Sentences by field."
    )


class Schema(openapi.AutoSchema):
    """Describes an operation together with all the ways it refuses."""

    def _get_response_bodies(self, direction: Any = "response") -> dict[str, Any]:
        answers: dict[str, Any] = super()._get_response_bodies(direction)
        self.resolve_serializer(ProblemOut, direction)
        refusals = _READ if self.method == "GET" else _WRITE
        for status in refusals:
            if status != "401" or self.view.authentication_classes:
                answers[status] = {"$ref": f"#/components/responses/Refused{status}"}
        return dict(sorted(answers.items()))


class SessionScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """The session cookie of the pages."""

    target_class = "api.authentication.SessionAuthentication"
    name = "session"

    def get_security_definition(self, auto_schema: Any) -> dict[str, Any]:  # noqa: ARG002
        """Return where the session travels."""
        return {"type": "apiKey", "in": "cookie", "name": settings.SESSION_COOKIE_NAME}


def takes(
    body: type[serializers.Serializer[Any]] | None,
    answer: type[serializers.BaseSerializer[Any]] | serializers.BaseSerializer[Any] | None,
    status: int,
) -> Callable[[F], F]:
    """Return a decorator that writes down what an operation reads and answers."""
    return extend_schema(request=body, responses={status: answer})


def unit_of(name: str) -> str | None:
    """Return the unit a field's name says, in words."""
    if name in IN_WORDS:
        return IN_WORDS[name]
    return next((words for ending, words in UNITS.items() if name.endswith(ending)), None)


def say_units(result: dict[str, Any], **_context: Any) -> dict[str, Any]:
    """Write the unit of every property beside it."""
    for component in result["components"]["schemas"].values():
        for name, described in component.get("properties", {}).items():
            if words := unit_of(name):
                before = described.get("description", "")
                described["description"] = f"{before} {words}.".strip()
    return result


def say_refusals(result: dict[str, Any], **_context: Any) -> dict[str, Any]:
    """Write down each way to refuse once, for the operations to point to."""
    content = {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/ProblemOut"}}}
    result["components"]["responses"] = {
        f"Refused{status}": {"description": meaning, "content": content}
        for status, meaning in sorted(_WRITE.items())
    }
    return result


def say_strictness(result: dict[str, Any], **_context: Any) -> dict[str, Any]:
    """Write down that input with an unknown key is refused, and that every output has all its keys.

    The widths of the database's whole numbers differ from one database to another and bind no reader: they go.
    """
    for name, component in result["components"]["schemas"].items():
        if name.endswith("In"):
            component["additionalProperties"] = False
        elif name.endswith("Out"):
            component["required"] = sorted(component["properties"])
            for described in component["properties"].values():
                if "integer" in described.get("type", ""):
                    for width in ("maximum", "minimum", "format"):
                        described.pop(width, None)
    return result
