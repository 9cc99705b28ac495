"""What a schema of the OpenAPI document says, in words."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

Schema = Mapping[str, Any]
PREFIX: Final = "#/components/schemas/"
_FORMATS: Final = {
    "uuid": "id",
    "date-time": "time with zone",
    "date": "date",
    "uri": "address",
    "binary": "file",
    "email": "e-mail address",
    "decimal": "amount as text",
}
_TYPES: Final = {
    "string": "text",
    "number": "number",
    "integer": "whole number",
    "boolean": "true or false",
    "object": "object",
    "null": "null",
}


def marked(text: str) -> SafeString:
    """Return a text with what stands between backticks set as code."""
    return format_html_join("", "{}", ((_part(index, part),) for index, part in enumerate(text.split("`"))))


def named(schema: Schema) -> str | None:
    """Return the name of the component a schema points to."""
    reference = schema.get("$ref")
    return reference.removeprefix(PREFIX) if reference else None


def kind_of(schema: Schema, shapes: Mapping[str, Schema]) -> str:
    """Return what kind of value a schema takes; the name of a shape stands for it."""
    if name := named(schema):
        target = shapes[name]
        return name if "properties" in target else kind_of(target, shapes)
    for several in ("oneOf", "anyOf", "allOf"):
        if several in schema:
            kinds = [kind_of(one, shapes) for one in schema[several]]
            return " or ".join(dict.fromkeys(kinds))
    if "enum" in schema:
        return " or ".join(_said(value) for value in schema["enum"])
    if "items" in schema:
        return "list of " + kind_of(schema["items"], shapes)
    types = schema.get("type", [])
    types = [types] if isinstance(types, str) else types
    known = _FORMATS.get(schema.get("format", ""))
    return " or ".join(known if known and kind == "string" else _TYPES[kind] for kind in types) or "anything"


def limits_of(schema: Schema) -> str:
    """Return the bounds of a value, where it has any."""
    found = []
    if "maxLength" in schema:
        found.append(f"up to {schema['maxLength']} characters")
    if "maxItems" in schema:
        found.append(f"{schema.get('minItems', 0)} to {schema['maxItems']} items")
    if "minimum" in schema and "maximum" in schema:
        found.append(f"{schema['minimum']} to {schema['maximum']}")
    elif "minimum" in schema:
        found.append(f"{schema['minimum']} or more")
    if "default" in schema:
        found.append(f"{_said(schema['default'])} where left out")
    return ", ".join(found)


def reached(schema: Schema, shapes: Mapping[str, Schema]) -> Iterator[str]:
    """Yield the names of the shapes a schema leads to, each once, the nearest first."""
    waiting, seen = [schema], set()
    while waiting:
        one = waiting.pop(0)
        if (name := named(one)) and name not in seen:
            seen.add(name)
            if "properties" in shapes[name]:
                yield name
            waiting.append(shapes[name])
        for several in ("oneOf", "anyOf", "allOf"):
            waiting.extend(one.get(several, []))
        waiting.extend(one.get("properties", {}).values())
        if "items" in one:
            waiting.append(one["items"])


def _said(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if value is None:
        return "null"
    return '""' if value == "" else str(value)


def _part(index: int, text: str) -> SafeString | str:
    """Return every second part as code: the others stand outside the backticks."""
    return format_html("<code>{}</code>", text) if index % 2 else text
