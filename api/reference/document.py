"""The OpenAPI document taken apart by noun, once for each version of it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final

import yaml
from django.utils.safestring import SafeString

from api.reference.examples import body_of, curl
from api.reference.words import Schema, kind_of, limits_of, marked, named, reached

DOCUMENT: Final = Path(__file__).parents[1] / "v1" / "openapi.yaml"
FORM: Final = "multipart/form-data"
_GOOD: Final = 400
_LOADER: Final = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass(frozen=True)
class Field:
    """One value of a body, an address or a header."""

    name: str
    kind: str
    shape: str | None
    limits: str
    words: SafeString
    is_required: bool
    place: str = ""


@dataclass(frozen=True)
class Shape:
    """A body by name: what stands in it."""

    name: str
    words: SafeString
    fields: list[Field]

    @property
    def is_input(self) -> bool:
        """Whether clients send it; an answer always has all its fields."""
        return self.name.endswith("In")


@dataclass(frozen=True)
class Answer:
    """What comes back when a request was not refused."""

    status: str
    words: SafeString
    shape: str | None


@dataclass(frozen=True)
class Operation:
    """One method of one address."""

    anchor: str
    method: str
    path: str
    words: SafeString
    scopes: list[str] | None
    parameters: list[Field]
    body: str | None
    form: str | None
    answers: list[Answer]
    refusals: list[str]
    example: str


@dataclass(frozen=True)
class Noun:
    """All that can be asked about one kind of thing."""

    name: str
    title: str
    words: SafeString
    operations: list[Operation]
    shapes: list[Shape]


@cache
def nouns() -> dict[str, Noun]:
    """Return every noun with its operations, in the order of the alphabet."""
    said = yaml.load(DOCUMENT.read_text(encoding="utf-8"), Loader=_LOADER)  # noqa: S506 - a safe loader
    found: dict[str, list[tuple[str, str, Schema]]] = {}
    for path, operations in said["paths"].items():
        for method, operation in operations.items():
            found.setdefault(operation["tags"][0], []).append((path, method, operation))
    shapes = said["components"]["schemas"]
    return {name: _noun(name, found[name], shapes) for name in sorted(found)}


def _noun(name: str, operations: list[tuple[str, str, Schema]], shapes: Mapping[str, Schema]) -> Noun:
    used: dict[str, None] = {}
    for _, _, operation in operations:
        for schema in _bodies(operation):
            used |= dict.fromkeys(reached(schema, shapes))
    title = name.replace("-", " ").capitalize()
    words = operations[0][2].get("description", "")
    return Noun(
        name=name,
        title=title,
        words=marked("" if words.rstrip(".") == title else words),
        operations=[_operation(*one, shapes) for one in operations],
        shapes=[_shape(one, shapes) for one in used],
    )


def _bodies(operation: Schema) -> Iterator[Schema]:
    for content in (operation.get("requestBody", {}), *operation["responses"].values()):
        for media in content.get("content", {}).values():
            yield media["schema"]


def _operation(path: str, method: str, said: Schema, shapes: Mapping[str, Schema]) -> Operation:
    security = said.get("security")
    keyed = [one["key"] for one in security or [] if "key" in one]
    scopes = keyed[0] if keyed else None
    parameters = [_field(one["name"], one["schema"], one, shapes) for one in said.get("parameters", [])]
    bodies = {kind: media["schema"] for kind, media in said.get("requestBody", {}).get("content", {}).items()}
    form = bodies.pop(FORM, None)
    body = next(iter(bodies.values()), None)
    good = {status: one for status, one in said["responses"].items() if int(status) < _GOOD}
    headers = [one.name for one in parameters if one.place == "header"]
    return Operation(
        anchor=said["operationId"],
        method=method.upper(),
        path=path,
        words=marked(said.get("description", "")),
        scopes=scopes,
        parameters=parameters,
        body=named(body) if body else None,
        form=named(form) if form else None,
        answers=[_answer(status, one, shapes) for status, one in good.items()],
        refusals=[status for status in said["responses"] if status not in good],
        example=curl(
            method, path, scopes=scopes, headers=headers, body=body_of(body, shapes) if body else None
        ),
    )


def _answer(status: str, said: Schema, shapes: Mapping[str, Schema]) -> Answer:
    schema = next((media["schema"] for media in said.get("content", {}).values()), None)
    words = marked(said.get("description", ""))
    if schema is None:
        return Answer(status, words or marked("Nothing more."), None)
    shape = next(reached(schema, shapes), None)
    return (
        Answer(status, words, shape)
        if named(schema)
        else Answer(status, marked(f"A {kind_of(schema, shapes)}."), shape)
    )


def _shape(name: str, shapes: Mapping[str, Schema]) -> Shape:
    said = shapes[name]
    wanted = {*said.get("required", []), *said.get("then", {}).get("required", [])}
    fields = [
        _field(field, schema, {"required": field in wanted}, shapes)
        for field, schema in said["properties"].items()
    ]
    return Shape(name, marked(said.get("description", "")), fields)


def _field(name: str, schema: Schema, said: Mapping[str, Any], shapes: Mapping[str, Schema]) -> Field:
    return Field(
        name=name,
        kind=kind_of(schema, shapes),
        shape=next(reached(schema, shapes), None),
        limits=limits_of(schema),
        words=marked(said.get("description", schema.get("description", ""))),
        is_required=bool(said.get("required")),
        place=said.get("in", ""),
    )
