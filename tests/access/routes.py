"""Every address of the service and what it answers to, read off the address book itself."""

import re
from collections.abc import Iterator
from typing import Any, NamedTuple

from django.urls import URLPattern, URLResolver, get_resolver

API = "api/v1/"
WRITES = ("POST", "PUT", "PATCH", "DELETE")


class Route(NamedTuple):
    """One address with the names of its parts in braces, and its view."""

    address: str
    name: str
    view: Any


def routes() -> list[Route]:
    """Return the addresses of pages and API; one that has two names is one address."""
    found: dict[str, Route] = {}
    for route in _walk(get_resolver().url_patterns, ""):
        found.setdefault(route.address, route)
    return list(found.values())


def api_routes() -> dict[str, Any]:
    """Return the addresses under version 1 with the methods each has."""
    return {
        route.address.removeprefix(API): methods_of(route.view)
        for route in routes()
        if route.address.startswith(API)
    }


def page_routes() -> list[Route]:
    """Return the addresses of the pages, those of the API's documentation among them."""
    return [route for route in routes() if not route.address.startswith(API)]


def methods_of(view: Any) -> set[str]:
    """Return the methods a view of the API has; HEAD is GET without its body."""
    actions = getattr(view, "actions", {"get": "document"})
    return {method.upper() for method in actions} - {"HEAD"}


def _walk(patterns: list[URLPattern | URLResolver], before: str) -> Iterator[Route]:
    for pattern in patterns:
        address = before + _named(str(pattern.pattern))
        if isinstance(pattern, URLResolver):
            yield from _walk(pattern.url_patterns, address)
        else:
            yield Route(address, pattern.name or "", pattern.callback)


def _named(pattern: str) -> str:
    """Return a pattern with its parts in braces: ``bikes/{pk}``."""
    plain = re.sub(r"\(\?P<(\w+)>[^)]*\)", r"{\1}", pattern)
    plain = re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", plain)
    return plain.replace("[Ww]", "w").removeprefix("^").removesuffix("$").removesuffix("\\Z")
