"""A request for each operation, such as somebody could send: the required fields, with values of the right kind."""

import json
from collections.abc import Mapping
from typing import Any, Final

from api.reference.words import Schema, named

ID: Final = "1b4e28ba-2fa1-4d3b-a3f5-ef19b5a7633b"
KEY: Final = "7d3f0c52-9a4e-4c1b-8f6a-2e5b90c4d817"
_OF_FORMATS: Final = {
    "uuid": ID,
    "date-time": "2026-06-12T09:30:00Z",
    "date": "2026-06-12",
    "decimal": "184.50",
    "uri": "https://tires.example.org/",
}
_BY_NAME: Final = {
    "ended_at": "2026-06-12T09:50:00Z",
    "ends_at": "2026-06-12T09:50:00Z",
    "code": "dry-2",
    "date_code": "0826",
    "first_code": "0826",
    "last_code": "1026",
    "number": "27",
    "unit": "turns",
}
# The first ending that fits counts.
_FIGURES: Final = {
    "barometer_kpa": 101.3,
    "_kpa": 210,
    "_c": 25,
    "depth_mm": 4.2,
    "length_mm": 1985,
    "_km": 18.4,
    "quantity": 4,
}


def body_of(schema: Schema, shapes: Mapping[str, Schema]) -> Any:
    """Return a body with the required fields."""
    target = shapes[named(schema) or ""] if named(schema) else schema
    wanted = [*target.get("required", []), *target.get("then", {}).get("required", [])]
    fields = target.get("properties", {})
    return {name: _value(name, fields[name], shapes) for name in fields if name in wanted}


def curl(
    method: str,
    path: str,
    *,
    scopes: list[str] | None,
    headers: list[str],
    body: Any,
) -> str:
    """Return a request as a command line."""
    address = path.replace("{id}", ID).replace("{public_code}", "4f7c2a9e1b")
    lines = ["curl" + ("" if method == "get" else f" --request {method.upper()}") + f' "$FLEET{address}"']
    if scopes is not None:
        lines.append('--header "Authorization: Bearer $FLEET_KEY"')
    if "Idempotency-Key" in headers:
        lines.append(f'--header "Idempotency-Key: {KEY}"')
    if "If-Match" in headers:
        lines.append('--header "If-Match: $ETAG"')
    if body is not None:
        lines += ['--header "Content-Type: application/json"', f"--data '{json.dumps(body, indent=2)}'"]
    return " \\\n  ".join(lines)


def _value(name: str, schema: Schema, shapes: Mapping[str, Schema]) -> Any:
    if target := named(schema):
        shape = shapes[target]
        return body_of(schema, shapes) if "properties" in shape else _value(name, shape, shapes)
    for several in ("oneOf", "anyOf", "allOf"):
        if several in schema:
            return _value(name, schema[several][0], shapes)
    if "enum" in schema:
        return schema["enum"][0]
    if "items" in schema:
        return [_value(name, schema["items"], shapes)]
    return _BY_NAME.get(name) or _OF_FORMATS.get(schema.get("format", "")) or _plain(name, schema)


def _plain(name: str, schema: Schema) -> Any:
    kind = schema.get("type", "string")
    kinds = [kind] if isinstance(kind, str) else kind
    if "number" in kinds or "integer" in kinds:
        return next((figure for ending, figure in _FIGURES.items() if name.endswith(ending)), 1)
    return True if "boolean" in kinds else "as noted"
