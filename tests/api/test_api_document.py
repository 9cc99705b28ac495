"""The OpenAPI document: valid, current, complete, and with a unit beside every figure."""

import pytest
import yaml
from django.core.management import call_command

from api.schema import unit_of
from api.v1.urls import DOCUMENT, router

# Figures without a unit in their name: counts, shares, numbers of things, and what another field gives the unit of.
COUNTED = {
    "taken",
    "after",
    "before",
    "days_run",
    "gearbox_teeth",
    "heat_cycle_limit",
    "heat_cycles",
    "in_store",
    "laps",
    "number",
    "on_trailer",
    "position",
    "quantity",
    "readings",
    "revision",
    "status",
    "tire_revision",
    "wheel_teeth",
}


@pytest.fixture(scope="module")
def document():
    return yaml.safe_load(DOCUMENT.read_text(encoding="utf-8"))


def test_the_committed_document_is_what_the_code_says(tmp_path):
    fresh = tmp_path / "openapi.yaml"

    call_command("spectacular", "--validate", "--fail-on-warn", "--file", str(fresh))

    assert fresh.read_text() == DOCUMENT.read_text(), (
        "write it again: manage.py spectacular --validate --fail-on-warn --file api/v1/openapi.yaml"
    )


def test_every_address_of_the_router_is_documented(document):
    nouns = {path.removeprefix("/api/v1/").split("/{")[0] for path in document["paths"]}

    assert {prefix for prefix, _, _ in router.registry} <= nouns


def test_every_figure_says_its_unit(document):
    silent = {
        f"{name}.{field}"
        for name, component in document["components"]["schemas"].items()
        for field, described in component.get("properties", {}).items()
        if {"number", "integer"} & set(types_of(described))
        and field not in COUNTED
        and unit_of(field) is None
    }

    assert silent == set()


def test_input_is_closed_and_output_is_whole(document):
    schemas = document["components"]["schemas"]

    assert all(schemas[name]["additionalProperties"] is False for name in schemas if name.endswith("In"))
    assert all(
        set(schemas[name]["required"]) == set(schemas[name]["properties"])
        for name in schemas
        if name.endswith("Out")
    )


def test_every_operation_says_how_it_refuses(document):
    for path, operations in document["paths"].items():
        for method, operation in operations.items():
            expected = (
                {"404", "422"} if "/public/" in path or path.endswith("/problems") else {"401", "403", "404"}
            )

            assert expected <= set(operation["responses"]), (path, method)


def test_the_document_is_served_to_anyone(ask):
    answer = ask().get("/api/v1/openapi.yaml")

    assert answer.status_code == 200
    assert b"".join(answer.streaming_content) == DOCUMENT.read_bytes()


def types_of(described):
    said = described.get("type", [])
    return said if isinstance(said, list) else [said]
