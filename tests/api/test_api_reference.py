"""The documentation of the API: whole, in step with the document, for everybody, and from this host alone."""

import json
import re

import jsonschema
import pytest
import yaml

from api.errors import OF_THE_TRANSPORT
from api.reference.document import nouns
from api.reference.examples import body_of
from api.reference.words import kind_of, limits_of, marked
from api.v1.urls import DOCUMENT
from fleet.accounts.models import Scope


@pytest.fixture(scope="module")
def document():
    return yaml.load(DOCUMENT.read_text(encoding="utf-8"), Loader=yaml.CSafeLoader)


@pytest.fixture
def read(client):
    def text(address):
        answer = client.get(address)
        assert answer.status_code == 200, address
        return answer.content.decode()

    return text


def test_every_operation_of_the_document_stands_on_a_page(read, document):
    said = {(method.upper(), path) for path, operations in document["paths"].items() for method in operations}
    pages = {name: read(f"/api/reference/{name}/") for name in nouns()}

    shown = {
        (method, path)
        for page in pages.values()
        for method, path in re.findall(r"<h2>(\w+) <code>([^<]+)</code></h2>", page)
    }

    assert shown == said
    assert len(shown) > 140


def test_every_way_on_a_page_leads_somewhere(read):
    overview = read("/api/")
    for name in nouns():
        page = read(f"/api/reference/{name}/")
        ids = set(re.findall(r'id="([^"]+)"', page))

        assert set(re.findall(r'href="#([^"]+)"', page)) <= ids, name
        assert f'href="/api/reference/{name}/"' in overview


def test_nothing_comes_from_another_host_and_no_script_or_style_stands_in_the_page(client):
    for address in ("/api/", "/api/reference/pressures/"):
        answer = client.get(address)
        page = answer.content.decode()

        fetched = re.findall(r'(?:src|href)="([^"]+)"', page)
        assert all(one.startswith(("/", "#")) for one in fetched)
        assert not re.search(r"<script|<style| style=| on\w+=", page)
        assert "default-src 'none'" in answer["Content-Security-Policy"]


def test_the_pages_ask_the_database_nothing(client, django_assert_num_queries, db):
    client.get("/api/")

    with django_assert_num_queries(0):
        client.get("/api/")
        client.get("/api/reference/stints/")


def test_the_overview_says_every_scope_every_code_and_the_limit(read, settings):
    settings.API_REQUESTS_PER_MINUTE = 123

    page = read("/api/")

    assert all(f"<code>{scope.value}</code>" in page for scope in Scope)
    assert all(f"<code>{code}</code>" in page for code, _, _ in OF_THE_TRANSPORT)
    assert "<code>tire-on-hold</code>" in page
    assert "gets 123 answers" in page


def test_a_page_says_scope_body_units_answers_and_a_request(read):
    page = read("/api/reference/pressures/")

    assert "Scope: <code>write_facts</code>" in page
    assert 'Body: <a href="#PressureIn">' in page
    assert "Instead of <code>pressure_kpa</code>, with <code>units=psi</code>" in page
    assert "curl --request POST &quot;$FLEET/api/v1/pressures&quot;" in page
    assert "&quot;pressure_kpa&quot;: 210" in page
    assert '<dt><code>201</code> <a href="#PressureOut">' in page


def test_keys_are_revoked_by_people_only_and_what_is_public_says_so(read):
    assert "no scope opens it" in read("/api/reference/keys/")
    assert "Open to everybody." in read("/api/reference/problems/")


def test_every_example_is_what_the_document_takes(document):
    shapes = document["components"]["schemas"]
    tried = 0
    for operations in document["paths"].values():
        for operation in operations.values():
            for media in operation.get("requestBody", {}).get("content", {}).values():
                body = body_of(media["schema"], shapes)
                whole = media["schema"] | {"components": document["components"]}
                jsonschema.validate(json.loads(json.dumps(body)), whole)
                tried += 1

    assert tried > 60


def test_a_noun_nobody_has_is_a_page_that_leads_nowhere(client):
    assert client.get("/api/reference/engines/").status_code == 404
    assert client.post("/api/").status_code == 405


@pytest.mark.parametrize(
    ("schema", "kind", "limits"),
    [
        ({"type": ["number", "null"]}, "number or null", ""),
        ({"type": "string", "maxLength": 40}, "text", "up to 40 characters"),
        ({"type": ["string", "null"], "format": "uuid"}, "id or null", ""),
        (
            {"type": "integer", "minimum": 1, "maximum": 9, "default": 5},
            "whole number",
            "1 to 9, 5 where left out",
        ),
        ({"type": "array", "items": {"enum": ["front", "rear"]}}, "list of front or rear", ""),
        ({"oneOf": [{"enum": ["a"]}, {"enum": [""]}]}, 'a or ""', ""),
        ({}, "anything", ""),
    ],
)
def test_a_schema_is_said_in_words(schema, kind, limits):
    assert (kind_of(schema, {}), limits_of(schema)) == (kind, limits)


def test_code_is_marked_and_everything_else_stays_text():
    assert marked("take `next`, <b>never</b>") == "take <code>next</code>, &lt;b&gt;never&lt;/b&gt;"
