"""The test a page is about, found for who asks."""

import uuid
from typing import Any

from django.http import HttpRequest

from fleet.accounts.models import Person
from fleet.errors import NotAllowed, NotFound
from fleet.pages.asking import person_of, require_place
from fleet.trials.models import TireTest
from fleet.trials.queries import may_read, may_test, trials_for


def test_seen(by: Person, pk: uuid.UUID) -> TireTest:
    """Return a test somebody may see; a stranger to trials is told whom they are for."""
    row = trials_for(by).filter(pk=pk).first()
    if row is None:
        require_place(by, "trials")
        raise NotFound("There is no such tire test for you: choose one on the trials page.")
    return row


def test_run_by(by: Person, pk: uuid.UUID) -> TireTest:
    """Return a test somebody runs; the rider of its bike reads it and is told that testers write."""
    row = test_seen(by, pk)
    if not may_test(by, row.organisation):
        raise NotAllowed(
            f"This test is run by the testers of {row.organisation.name}: you read it because it is about your bike."
        )
    return row


def about(request: HttpRequest, test: TireTest) -> dict[str, Any]:
    """Return what every page about a test shows: the test, and what who asks may do with it."""
    by = person_of(request)
    runs_it = may_test(by, test.organisation)
    return {
        "place": "trials" if runs_it else "garage",
        "test": test,
        "runs_it": runs_it,
        "is_open": may_read(by, test),
    }
