"""Programs that ask the running service at the same moment, each with a key."""

import uuid

import httpx
import pytest

from fleet.accounts.actions import make_key
from fleet.accounts.models import Scope
from fleet.celery import app


@pytest.fixture(autouse=True)
def _queue_in_memory(monkeypatch):
    """Committed writes wake the jobs: here into a queue that ends with the test."""
    monkeypatch.setattr(app.conf, "broker_url", "memory://")


@pytest.fixture
def client(live_server, now):
    """Return a client of somebody's, with a key of its own."""
    opened = []

    def begin(person):
        token = make_key(by=person, at=now, name=uuid.uuid4().hex, scopes=Scope.values)[1]
        base, headers = f"{live_server.url}/api/v1/", {"Authorization": f"Bearer {token}"}
        opened.append(httpx.Client(base_url=base, headers=headers, timeout=60))
        return opened[-1]

    yield begin
    for one in opened:
        one.close()
