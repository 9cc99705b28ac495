"""Aims requests at rows that exist and at figures of the trade: drawn blindly, nearly all would end at a 404."""

from dataclasses import dataclass
from typing import Any

from schemathesis.generation.meta import ParameterLocation
from schemathesis.transport.serialization import Binary

JSON, FORM = "application/json", "multipart/form-data"
BODY, PATH, QUERY = ParameterLocation.BODY, ParameterLocation.PATH, ParameterLocation.QUERY


@dataclass(frozen=True)
class Aim:
    """Ids of rows by noun, and for each write the address and body with which somebody with the right gets through."""

    rows: dict[str, list[str]]
    good: dict[str, dict[str, Any]]

    def good_cases(self, operation):
        """Return the requests with which somebody with the right gets through: as JSON, and as a form where it takes one."""
        return [self._good_case(operation, media_type) for media_type in media_types_of(operation) or [JSON]]

    def _good_case(self, operation, media_type):
        written = self.good.get(operation.label, {})
        noun = noun_of(operation)
        address = {
            parameter.name: written.get("row") or self.rows[noun][0]
            for parameter in operation.path_parameters
        }
        body = {"body": sent(written, media_type), "media_type": media_type} if "body" in written else {}
        headers = {"If-Match": "*"} if "If-Match" in {header.name for header in operation.headers} else {}
        return operation.Case(path_parameters=address, headers=headers, **body)

    def aimed(self, case, chance):
        """Return a drawn request with most ids and many values replaced by ones that can be right.

        A part drawn to be wrong stays as it was drawn.
        """
        right = {place for place, part in case.meta.components.items() if part.mode.is_positive}
        written = self.good.get(case.operation.label, {})
        if PATH in right and case.path_parameters and chance.random() < 0.9:
            row = written.get("row") or chance.choice(self.rows[noun_of(case.operation)])
            case.path_parameters = dict.fromkeys(case.path_parameters, row)
        if QUERY in right and case.query:
            case.query = {name: self._named(name, value, chance) for name, value in case.query.items()}
        if BODY in right and isinstance(case.body, dict):
            case.body = self._filled(case.body, sent(written, case.media_type), chance)
        return case

    def _filled(self, drawn, good, chance):
        body = {
            name: good[name] if name in good and chance.random() < 0.7 else self._named(name, value, chance)
            for name, value in drawn.items()
            if name in good or chance.random() < 0.4
        }
        if isinstance(drawn.get("items"), list) and "items" in good:
            items = [one for one in drawn["items"] if isinstance(one, dict)]
            body["items"] = [self._filled(one, good["items"][0], chance) for one in items] or drawn["items"]
        return body

    def _named(self, name, value, chance):
        if name in self.rows and isinstance(value, str) and chance.random() < 0.7:
            return chance.choice(self.rows[name])
        return value


def media_types_of(operation):
    """Return the forms an operation's body may have."""
    return [body.media_type for body in operation.body]


def sent(written, media_type):
    """Return a good body in the form it is sent in."""
    return written.get("body", {}) | ({"photo": Binary(written["photo"])} if media_type == FORM else {})


def noun_of(operation):
    """Return the noun an operation's address begins with."""
    return operation.path.removeprefix("/api/v1/").split("/{")[0]
