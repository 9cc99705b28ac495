"""The methods and addresses of the router's resources, and where a row of the world stands."""

from typing import NamedTuple

import pytest

from api.v1.urls import router

# What everybody who is signed in may read: the shared catalogue and public places.
SHARED = {"line", "spec", "pressure-spec", "track", "layout", "organisation-name"}
PUBLIC = {"public-bulletin", "problem"}


class Route(NamedTuple):
    noun: str
    action: str
    method: str
    address: str
    is_detail: bool


def routes():
    """Return every method of every address the router has."""
    found = []
    for prefix, view, noun in router.registry:
        for route in router.get_routes(view):
            for method, action in router.get_method_map(view, route.mapping).items():
                address = f"/api/v1/{prefix}" + route.url.removeprefix("^{prefix}").split("$")[0]
                found.append(Route(noun, action, method, address, "{lookup}" in address))
    return found


def address_of(route, world):
    if route.noun not in world.rows and route.is_detail:
        pytest.fail(f"{route.noun} is a new resource: give the world a row of it.")
    row = world.rows.get(route.noun)
    identity = row.day.public_code if route.noun == "public-bulletin" else getattr(row, "pk", "")
    return route.address.replace("{lookup}", str(identity)).replace("{trailing_slash}", "")
