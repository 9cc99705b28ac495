"""The history over the API: paged, narrowed, and each owner's own."""

import pytest
import yaml
from django.apps import apps
from django.db import connection
from django.test.utils import CaptureQueriesContext

from api.v1.urls import DOCUMENT
from fleet.accounts.actions import make_key
from fleet.accounts.models import Change
from fleet.garage.actions import correct_bike
from fleet.history.sources import SOURCES
from fleet.inventory.models import Tire
from fleet.life.models import Assessment, Flag, LearnedModel
from fleet.notices.models import Notice
from fleet.photos.models import Photo
from fleet.pressures.models import Guidance, GuidanceLine, GuidancePart
from fleet.records import Noun

ADDRESS = "/api/v1/changes"
# Who asks, whose, the union, the changes, their riders, and where authors work; then one for each kind of fact.
ALWAYS = 9


def test_a_correction_is_read_with_before_and_after(ask, rider_person, rider, bike):
    client = ask(rider_person)
    client.patch(f"/api/v1/bikes/{bike.pk}", {"rake_deg": 24.0}, HTTP_IF_MATCH="*")

    newest, made = client.get(f"{ADDRESS}?about={bike.pk}").json()["results"]

    assert (newest["what"], newest["noun"], newest["row"]) == ("corrected", "bike", str(bike.pk))
    assert (newest["before"], newest["after"]) == ({"rake_deg": None}, {"rake_deg": 24.0})
    assert (newest["by"], newest["is_own"], newest["on_behalf_of"]) == ("Robin Vale", True, None)
    assert (made["what"], made["by"], made["is_own"]) == ("made", "the service", False)


def test_what_staff_did_says_for_whom(ask, fitter, tarn, rider_person, rider):
    body = {"rider": str(rider.pk), "code": "b-77", "description": "600 sport"}
    ask(fitter).post("/api/v1/bikes", body)

    line = ask(rider_person).get(f"{ADDRESS}?noun=bike").json()["results"][0]

    assert (line["by"], line["on_behalf_of"], line["on_behalf_of_name"]) == (
        "Fen Aldous, Tarn Tire Service",
        str(tarn.pk),
        "Tarn Tire Service",
    )


def test_a_program_is_named_by_its_key(ask, rider_person, rider, now, db):
    _, token = make_key(by=rider_person, at=now, name="lap timer", scopes=["read", "write_garage"])
    body = {"rider": str(rider.pk), "code": "b-77", "description": "600 sport"}
    ask().post("/api/v1/bikes", body, HTTP_AUTHORIZATION=f"Bearer {token}")

    line = ask().get(f"{ADDRESS}?noun=bike", HTTP_AUTHORIZATION=f"Bearer {token}").json()["results"][0]

    assert (line["by"], line["api_key"]) == ("Robin Vale", "lap timer")


@pytest.mark.parametrize("who", ["rider_person", "stock_manager", "director"])
def test_pages_follow_one_another_to_the_end(request, ask, world, who):
    client = ask(request.getfixturevalue(who))
    whole = client.get(f"{ADDRESS}?page_size=200").json()["results"]

    found, address = [], f"{ADDRESS}?page_size=7"
    while address:
        page = client.get(address).json()
        found += page["results"]
        address = page["next"]

    assert len(whole) > 7
    assert found == whole


@pytest.mark.parametrize(
    "query",
    [
        "noun=bikes",
        "what=edited",
        "about=not-an-id",
        "since=2026-06-12",
        "page_size=0",
        "page_size=many",
        "cursor=nonsense",
        "cursor=WzEsMiwzXQ==",
        "cursor=WyIyMDI2LTA2LTEyIiwieCIsIm1hZGUiXQ==",
        "rider=1",
    ],
)
def test_what_cannot_be_read_is_refused_at_its_parameter(ask, rider_person, query):
    answer = ask(rider_person).get(f"{ADDRESS}?{query}")

    assert (answer.status_code, set(answer.json()["errors"])) == (422, {query.split("=")[0]})


def test_filters_narrow(ask, stock_manager, world):
    client = ask(stock_manager)

    fitted = client.get(f"{ADDRESS}?noun=fitting&what=recorded").json()["results"]
    early = client.get(f"{ADDRESS}?until=2026-06-12T00:00:00Z").json()["results"]
    since = client.get(f"{ADDRESS}?since=2026-06-12T00:00:00Z&noun=lot").json()["results"]

    assert {line["noun"] for line in fitted} == {"fitting"}
    assert (early, {line["noun"] for line in since}) == ([], {"lot"})


def test_nobody_reads_anothers_history(ask, world, stranger, rider_person, other_rider):
    """What the stranger and the other rider read names no row of the world."""
    rows = {str(row.pk) for row in world.rows.values()}

    for person in (stranger, other_rider.person):
        lines = ask(person).get(f"{ADDRESS}?page_size=200").json()["results"]
        assert {line["noun"] for line in lines} <= {"person", "rider", "membership"}
        assert rows.isdisjoint({line["row"] for line in lines})
        for row in rows:
            assert ask(person).get(f"{ADDRESS}?about={row}").json()["results"] == []


# What no line tells of: computed by the service, told once, or made together with a fact that has an author.
WITHOUT_A_LINE = {
    Assessment, Guidance, GuidanceLine, GuidancePart, LearnedModel, Flag, Notice, Photo, Tire, Change,
}  # fmt: skip


def test_every_row_of_the_world_that_is_no_fact_has_a_line(world):
    told = set(Change.objects.values_list("row", flat=True))
    nouns = [model for model in apps.get_models() if issubclass(model, Noun) and model not in WITHOUT_A_LINE]

    silent = {model.__name__ for model in nouns for row in model.objects.all() if row.pk not in told}
    seen = {model.__name__ for model in nouns if model.objects.exists()}

    assert silent == set()
    assert len(seen) > 18, sorted(seen)


def test_a_history_cannot_be_written(ask, rider_person, bike):
    client = ask(rider_person)
    correct_bike(by=rider_person, bike=bike, rake_deg=24.0)
    line = Change.objects.get(what="corrected")

    for method in ("post", "put", "patch", "delete"):
        assert getattr(client, method)(ADDRESS).status_code == 405
        assert getattr(client, method)(f"{ADDRESS}/{line.pk}").status_code == 404


def test_more_rows_cost_no_more_queries(ask, world, stock_manager, director, rider_person):
    for person in (stock_manager, director, rider_person):
        client = ask(person)
        found = []
        for _ in range(2):
            with CaptureQueriesContext(connection) as queries:
                lines = client.get(f"{ADDRESS}?page_size=200").json()["results"]
            facts = {line["noun"] for line in lines} & {source.noun for source in SOURCES}
            found.append((len(lines), len(queries) - len(facts)))
            world.grow(3)

        (few, cost), (many, later) = found
        assert many > few or few == 200
        assert cost == later <= ALWAYS


def test_the_document_describes_a_page():
    operation = yaml.safe_load(DOCUMENT.read_text(encoding="utf-8"))["paths"][ADDRESS]["get"]

    answer = operation["responses"]["200"]["content"]["application/json"]["schema"]
    assert answer == {"$ref": "#/components/schemas/HistoryOut"}
