"""The OpenAPI document: every refusal an operation may answer with, units said in words, two ways to sign in."""

from collections.abc import Callable
from typing import Any, Final, TypeVar

from django.conf import settings
from drf_spectacular import openapi
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers

from api.errors import MEDIA_TYPE
from api.forms import MEDIA_TYPE as MEDIA_TYPE_OF_FORMS
from api.idempotency import HEADER, METHODS, PATTERN
from api.permissions import scope_wanted
from api.serializers import In, quantities_of
from api.units import OTHERS, PARAMETER, named_in, others_of, quantity_of
from fleet.accounts.models import Scope

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
} | {f"_{unit}": other.words for unit, other in OTHERS.items() if unit != "in"}
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
    "401": "Nobody is signed in, or the key does not work.",
    "403": "The role is too small, or the key's scope is.",
    "404": "Nothing like that here for the person who asks.",
    "406": "Answers are JSON, and photos PNG.",
    "422": "A value that cannot be right.",
    "429": "More requests in a minute than the limit; `Retry-After` says the seconds to wait.",
    "503": "Others are writing the same things; send it again as it is after the seconds in `Retry-After`.",
}
_WRITE: Final = _READ | {
    "400": "The body is not readable.",
    "409": "The present state of things does not allow it.",
    "415": "Bodies are JSON; a fact that takes a photo may come as a form.",
}


IDEMPOTENCY_KEY: Final = OpenApiParameter(
    HEADER,
    {"type": "string", "pattern": PATTERN},
    OpenApiParameter.HEADER,
    description="Chosen by the client, a random UUID for instance: the same request sent again with it within 48 hours has "
    "no second effect and gets the same answer, marked `Idempotency-Replayed: true`.",
)


CHOSEN_UNITS: Final = OpenApiParameter(
    PARAMETER,
    {"type": "array", "items": {"type": "string", "enum": list(OTHERS)}, "uniqueItems": True},
    OpenApiParameter.QUERY,
    description="Units of the body other than SI, one a quantity, repeated or with commas: a field then ends in its unit, such as "
    "`pressure_psi` for `pressure_kpa`, and holds for all items of a batch. Answers stay SI.",
)


IF_MATCH: Final = OpenApiParameter(
    "If-Match",
    str,
    OpenApiParameter.HEADER,
    required=True,
    description="The ETag of the state the change rests on, as it was read; `*` for whatever state there is.",
)
IF_NONE_MATCH: Final = OpenApiParameter(
    "If-None-Match",
    str,
    OpenApiParameter.HEADER,
    description="ETags of states held already: one that still stands is answered with 304 and nothing else.",
)

_EDIT: Final = {
    "412": "The state the change rests on is over.",
    "428": "The change does not say which state it rests on.",
}


# What only those can be answered who say who they are.
_OF_SOMEBODY: Final = frozenset({"401", "429"})
_RETRIED: Final = frozenset({"429", "503"})
RETRY_AFTER: Final = {
    "Retry-After": {
        "schema": {"type": "integer", "minimum": 1},
        "description": "Seconds to wait before the next try.",
    }
}


_PLAIN: Final = frozenset({"list", "create", "retrieve"})


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

    def get_operation_id(self) -> str:
        """Return the noun and the verb, without the method where the address says the verb: ``fittings_removal``."""
        name = str(super().get_operation_id())
        verb = getattr(self.view, "action", "")
        if verb == "partial_update":
            return name.removesuffix("_partial_update") + "_correct"
        if verb in _PLAIN:
            return name
        return name.rpartition("_")[0]

    def get_override_parameters(self) -> list[Any]:
        """Return the headers that every write takes."""
        found: list[Any] = super().get_override_parameters()
        if self.method in METHODS:
            found = [*found, IDEMPOTENCY_KEY]
        if self._measures():
            found = [*found, CHOSEN_UNITS]
        if self._is_edit():
            found = [*found, IF_MATCH]
        return [*found, IF_NONE_MATCH] if self._is_read_of_one() else found

    def _measures(self) -> bool:
        if self.method not in METHODS:
            return False
        body: Any = self.get_request_serializer()
        body = getattr(body, "item", body)
        body = body() if isinstance(body, type) else body
        return isinstance(body, In) and bool(quantities_of(body))

    def _is_edit(self) -> bool:
        return getattr(self.view, "action", "") in getattr(self.view, "edits", ())

    def _is_read_of_one(self) -> bool:
        return getattr(self.view, "action", "") == "retrieve" and hasattr(self.view, "edits")

    def _get_response_bodies(self, direction: Any = "response") -> dict[str, Any]:
        answers: dict[str, Any] = super()._get_response_bodies(direction)
        self.resolve_serializer(ProblemOut, direction)
        refusals = _READ if self.method == "GET" else _WRITE
        if self._is_edit():
            refusals = refusals | _EDIT
        if self._is_read_of_one():
            answers["304"] = {"description": "The state held already still stands."}
            answers["200"]["headers"] = {
                "ETag": {"schema": {"type": "string"}, "description": "Mark of the state."}
            }
        for status in refusals:
            if status not in _OF_SOMEBODY or self.view.authentication_classes:
                answers[status] = {"$ref": f"#/components/responses/Refused{status}"}
        return dict(sorted(answers.items()))


class KeyScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """A key in the Authorization header, with the scope each operation wants."""

    target_class = "api.authentication.KeyAuthentication"
    name = "key"

    def get_security_definition(self, auto_schema: Any) -> dict[str, Any]:  # noqa: ARG002
        """Return where the key travels."""
        return {
            "type": "http",
            "scheme": "bearer",
            "description": "An API key, made on the page of API keys. Scopes: "
            + "; ".join(f"{scope.value} ({scope.label.lower()})" for scope in Scope)
            + ".",
        }

    def get_security_requirement(self, auto_schema: Any) -> dict[str, list[str]]:
        """Return the scope an operation wants (OpenAPI 3.1, security requirement object)."""
        wanted = scope_wanted(auto_schema.view, auto_schema.method)
        return {self.name: [wanted.value] if wanted else []}


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
    *,
    form: type[In] | None = None,
) -> Callable[[F], F]:
    """Return a decorator that writes down what an operation reads, as JSON and as a form, and what it answers."""
    request: Any = {"application/json": body, MEDIA_TYPE_OF_FORMS: form} if form else body
    return extend_schema(request=request, responses={status: answer})


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


def say_other_units(result: dict[str, Any], **_context: Any) -> dict[str, Any]:
    """Write beside each quantity of an input how it is named in the other units that can be chosen."""
    for name, component in result["components"]["schemas"].items():
        if name.endswith("In"):
            figures = [
                field
                for field, described in component.get("properties", {}).items()
                if "number" in described.get("type", "") and quantity_of(field)
            ]
            for field in figures:
                _say_others(component, field)
    return result


def _say_others(component: dict[str, Any], field: str) -> None:
    others = {unit: named_in(field, unit) for unit in others_of(field)}
    for unit, other in others.items():
        said = f"Instead of `{field}`, with `{PARAMETER}={unit}`: {OTHERS[unit].words}."
        component["properties"][other] = {"type": component["properties"][field]["type"], "description": said}
    if field in component.get("required", []):
        component["required"].remove(field)
        component["if"] = {"not": {"anyOf": [{"required": [other]} for other in others.values()]}}
        component["then"] = {"required": [field]}


def say_refusals(result: dict[str, Any], **_context: Any) -> dict[str, Any]:
    """Write down each way to refuse once, for the operations to point to."""
    content = {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/ProblemOut"}}}
    result["components"]["responses"] = {
        f"Refused{status}": {"description": meaning, "content": content}
        | ({"headers": RETRY_AFTER} if status in _RETRIED else {})
        for status, meaning in sorted((_WRITE | _EDIT).items())
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
