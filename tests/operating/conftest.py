"""A browser in which somebody is signed in."""

import pytest
from django.test import Client


@pytest.fixture
def as_(db):
    def open_as(person):
        client = Client()
        client.force_login(person)
        return client

    return open_as
