"""The cast asks over HTTP, at one moment; and a world that can be grown by the same rows once more."""

import pytest
from rest_framework.test import APIClient

from tests.api.world import World


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    """The system clock stands still at the cast's Friday."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)


@pytest.fixture
def ask(db):
    """Return a client of somebody signed in, or of nobody."""

    def sign_in(person=None):
        client = APIClient(raise_request_exception=True)
        if person is not None:
            client.force_login(person)
        return client

    return sign_in


@pytest.fixture
def world(request, now, entry):
    """One row of every noun around Robin, Tarn and Longfield; ``grow`` adds more of each."""
    names = ["tarn", "longfield", "director", "rider", "wheel_pair", "fitted", "front_spec", "layout"]
    built = World(now=now, **{name: request.getfixturevalue(name) for name in names})
    built.grow(1)
    return built
