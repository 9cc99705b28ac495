"""Every operation of the committed document, asked by everybody, with requests drawn from the document itself.

Good requests, well-formed ones and malformed ones: no answer is a fault of the service, and each is one that the document
promises, with its status, media type, headers and shape. By hand, ``FLEET_FUZZ_EXAMPLES`` asks for more of them and
``FLEET_FUZZ_SEED`` for others.
"""

import os
import sys

import pytest
import schemathesis
import yaml
from django.conf import settings
from django.core.signals import got_request_exception, request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections, transaction
from django.test import Client
from hypothesis import HealthCheck, Phase, given, seed
from hypothesis import settings as bounds
from hypothesis import strategies as st
from schemathesis.checks import not_a_server_error
from schemathesis.config import SchemathesisConfig
from schemathesis.generation import GenerationMode
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    negative_data_rejection,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from api.v1.urls import DOCUMENT
from fleet.accounts.actions import make_key
from fleet.accounts.models import Scope
from tests.api.fuzz.aim import FORM, Aim
from tests.api.fuzz.good_requests import good_requests, rows_by_noun

EXAMPLES = int(os.environ.get("FLEET_FUZZ_EXAMPLES", "2"))
SEED = int(os.environ.get("FLEET_FUZZ_SEED", "1"))
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    negative_data_rejection,
]
# What a malformed request may be answered with; in a batch each item is refused by itself, and the whole is answered.
REFUSALS = ["400", "401", "403", "404", "409", "412", "415", "422", "428"]
OF_BATCHES = "/batch"
NOBODY = "nobody"
# Nothing about them can be malformed: they take nothing, or any text.
NEVER_MALFORMED = {"GET /api/v1/problems", "GET /api/v1/public/bulletins/{public_code}"}


@pytest.fixture(autouse=True)
def _no_limit(settings):
    settings.API_REQUESTS_PER_MINUTE = 0


@pytest.fixture
def operations():
    config = SchemathesisConfig.from_dict(
        {"checks": {"negative_data_rejection": {"expected-statuses": REFUSALS}}}
    )
    document = yaml.safe_load(DOCUMENT.read_text(encoding="utf-8"))
    schema = schemathesis.openapi.from_dict(document, config=config)
    schema.app = get_wsgi_application()
    return [found.ok() for found in schema.get_all_operations()]


@pytest.fixture
def cast(settings, now, rider_person, fitter, stock_manager, crew, director, inspector, tester, stranger):
    """What each sends along: everybody of both organisations, a stranger, a rider on the pages, and nobody."""
    people = {
        "rider": rider_person,
        "fitter": fitter,
        "stock manager": stock_manager,
        "crew": crew,
        "director": director,
        "inspector": inspector,
        "tester": tester,
        "stranger": stranger,
    }
    keys = {
        name: make_key(by=person, at=now, name=name, scopes=Scope.values)[1]
        for name, person in people.items()
    }
    programs = {name: {"headers": {"Authorization": f"Bearer {key}"}} for name, key in keys.items()}
    return programs | {"rider on the pages": on_the_pages(rider_person), NOBODY: {"headers": {}}}


def on_the_pages(person):
    """Return the session of somebody signed in, with the token each write repeats."""
    client = Client()
    client.force_login(person)
    token = "c" * 32
    session = client.cookies[settings.SESSION_COOKIE_NAME].value
    return {
        "headers": {"X-CSRFToken": token},
        "cookies": {settings.SESSION_COOKIE_NAME: session, settings.CSRF_COOKIE_NAME: token},
    }


@pytest.fixture
def aim(world, unspent):
    return Aim(rows_by_noun(world), good_requests(world, unspent))


@pytest.fixture
def asked(cast):
    """Ask as somebody, check the answer against the document, and leave everything as it was."""
    faults = []

    def note(**_signal):
        faults.append(sys.exception())

    def ask(case, name, mode=GenerationMode.POSITIVE):
        faults.clear()
        with transaction.atomic():
            answer = case.call(**cast[name])
            transaction.set_rollback(True)
        if faults:
            raise faults[0]
        # A form with another picture than the one drawn passes for a wrong one.
        is_aimed_form = case.media_type == FORM and mode is GenerationMode.POSITIVE
        is_spared = is_aimed_form or case.operation.path.endswith(OF_BATCHES)
        spared = [negative_data_rejection] if is_spared else []
        case.validate_response(answer, checks=CHECKS, excluded_checks=spared, headers=cast[name]["headers"])
        return answer.status_code

    got_request_exception.connect(note, weak=False)
    # Within a transaction the handler would take the connection for a lost one; the test client keeps it the same way.
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield ask
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)
    got_request_exception.disconnect(note)


def test_every_answer_is_one_the_document_promises(operations, aim, cast, asked, subtests):
    for operation in operations:
        with subtests.test(operation=operation.label):
            for case in aim.good_cases(operation):
                let_in = [name for name in cast if asked(case, name) < 300]

                assert let_in, "a write nobody gets through tells little: give it a row in good_requests.py"

            explore(operation, GenerationMode.POSITIVE, aim, asked, cast)
            if operation.label not in NEVER_MALFORMED:
                explore(operation, GenerationMode.NEGATIVE, aim, asked, {let_in[0], let_in[-1], NOBODY})


def explore(operation, mode, aim, asked, people):
    @seed(SEED)
    @bounds(
        max_examples=EXAMPLES,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(generation_mode=mode), chance=st.randoms(use_true_random=True))
    def ask(case, chance):
        aimed = aim.aimed(case, chance)
        for name in sorted(people):
            asked(aimed, name, mode)

    ask()
