"""No list asks the database more often because it is longer."""

from django.db import connection
from django.test.utils import CaptureQueriesContext

from api.v1.urls import router

# Problems are no rows; the history reads a query for each kind of fact it shows, which its own tests count.
APART = {"problems", "changes"}
LISTS = {prefix for prefix, view, _ in router.registry if hasattr(view, "list")} - APART
MORE = 20


def asked(client):
    """Return by list how many queries it made and how many rows it showed."""
    found = {}
    for prefix in LISTS:
        with CaptureQueriesContext(connection) as queries:
            answer = client.get(f"/api/v1/{prefix}?page_size=200")
        found[prefix] = (len(queries), len(answer.json()["results"]))
    return found


def test_every_list_makes_as_many_queries_for_twenty_more_rows(
    ask, world, stock_manager, director, rider_person
):
    people = [stock_manager, director, rider_person]
    clients = [ask(person) for person in people]
    few = [asked(client) for client in clients]

    world.grow(MORE)
    many = [asked(client) for client in clients]

    grown = {
        name
        for one, other in zip(few, many, strict=True)
        for name in LISTS
        if other[name][1] >= one[name][1] + MORE
    }
    assert grown == LISTS, "every list must have grown for somebody, or nothing was tried"
    for person, one, other in zip(people, few, many, strict=True):
        assert {name: one[name][0] for name in LISTS} == {name: other[name][0] for name in LISTS}, person
        assert max(queries for queries, _ in other.values()) <= 6
