"""Reading bodies: JSON and nothing else, without the openings JSON itself leaves."""

import json
from collections.abc import Mapping
from typing import IO, Any

from rest_framework import parsers
from rest_framework.exceptions import ParseError


class JSONParser(parsers.JSONParser):
    """JSON in UTF-8 (RFC 8259) without repeated keys, without NaN, and not nested beyond reason."""

    def parse(
        self,
        stream: IO[Any],
        media_type: str | None = None,  # noqa: ARG002
        parser_context: Mapping[str, Any] | None = None,  # noqa: ARG002
    ) -> Any:
        """Return what a body says; an unreadable one is refused with the place of the mistake."""
        try:
            return json.loads(
                stream.read().decode("utf-8"), object_pairs_hook=_once, parse_constant=_no_constant
            )
        except UnicodeDecodeError as error:
            raise ParseError("The body is not UTF-8: send JSON in UTF-8.") from error
        except RecursionError as error:
            raise ParseError("The body is nested too deeply: send one plain object.") from error
        except ValueError as error:
            raise ParseError(f"The body is not readable JSON: {error}.") from error


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key stands twice in one object")
    return found


def _no_constant(name: str) -> None:
    raise ValueError(f"{name} is no JSON number")
