"""A client generated from the committed document by a public generator does the main job against a running server."""

import importlib
import os
import subprocess
import sys
import uuid
from datetime import date, datetime
from pathlib import Path
from types import SimpleNamespace

import pytest

from api.v1.urls import DOCUMENT
from fleet.accounts.actions import make_key
from fleet.accounts.models import Scope
from fleet.life.tasks import assess_changed

NAME = "generated_track_day_client"


@pytest.fixture(scope="module")
def generated(tmp_path_factory):
    """Return the generated package: ``call`` finds a function by its operation id, ``models`` holds the shapes."""
    folder = tmp_path_factory.mktemp("client")
    tools = Path(sys.executable).parent
    # The generator knows files by one media type only: a picture is told to be one.
    config = folder / "config.yaml"
    config.write_text("content_type_overrides:\n  image/png: application/octet-stream\n")
    command = [tools / "openapi-python-client", "generate", "--path", DOCUMENT, "--meta", "none"]
    said = subprocess.run(
        [*command, "--output-path", folder / NAME, "--config", config, "--fail-on-warning"],
        env=os.environ | {"PATH": f"{tools}:{os.environ['PATH']}"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert said.returncode == 0, said.stdout + said.stderr
    sys.path.insert(0, str(folder))
    yield SimpleNamespace(
        folder=folder / NAME,
        client=importlib.import_module(f"{NAME}.client"),
        models=importlib.import_module(f"{NAME}.models"),
    )
    sys.path.remove(str(folder))
    for name in [name for name in sys.modules if name.split(".")[0] == NAME]:
        del sys.modules[name]


@pytest.fixture
def caller(generated, live_server, now):
    """Return somebody's hands on the service: generated functions, by noun and operation id."""
    opened = []

    def begin(person):
        token = make_key(by=person, at=now, name="generated", scopes=Scope.values)[1]
        client = generated.client.AuthenticatedClient(base_url=live_server.url, token=token)
        opened.append(client)

        def ask(noun, operation, *address, **given):
            function = importlib.import_module(f"{NAME}.api.{noun}.{operation}").sync_detailed
            answer = function(*address, client=client, **given)
            assert answer.status_code < 300, answer.content
            return answer

        return ask

    yield begin
    for client in opened:
        client.get_httpx_client().close()


def at(text):
    return datetime.fromisoformat(f"2026-06-12T{text}+00:00")


def stock_in(manager, models, tarn, specs):
    lots = []
    for spec in specs:
        body = models.LotIn(
            vendor=tarn.pk,
            spec=spec.pk,
            code=f"june-{spec.axle}",
            date_code="0826",
            quantity=4,
            received_at=at("06:00"),
            place=models.PlaceEnum.TRAILER,
            unit_cost="84.50",
        )
        lots.append(manager("lots", "lots_create", body=body).parsed)
    return lots


def fit(trailer, models, tarn, wheel_pair, lots):
    """Take the wheels in, put both tires on, and move the ticket along as it was read."""
    body = models.TicketIn(vendor=tarn.pk, wheel_pair=wheel_pair.pk, opened_on=date(2026, 6, 12))
    ticket = trailer("tickets", "tickets_create", body=body).parsed
    read = trailer("tickets", "tickets_retrieve", ticket.id)
    moved = trailer(
        "tickets",
        "tickets_state",
        ticket.id,
        body=models.TicketStateIn(state=models.TicketStateEnum.ON_MACHINE),
        if_match=read.headers["ETag"],
        idempotency_key=str(uuid.uuid4()),
    ).parsed
    assert moved.state is models.TicketStateEnum.ON_MACHINE
    fittings = []
    for axle, lot in zip(models.AxleEnum, lots, strict=True):
        body = models.FittingIn(
            wheel_pair=wheel_pair.pk,
            axle=axle,
            fitted_at=at("07:00"),
            lot=lot.id,
            ticket=ticket.id,
            key=uuid.uuid4(),
        )
        fittings.append(trailer("fittings", "fittings_create", body=body).parsed)
    return fittings


def ride(robin, models, wheel_pair, day, fittings):
    """Log a stint with its pressures, and a tread depth of each tire."""
    body = models.StintIn(
        wheel_pair=wheel_pair.pk,
        day=day.pk,
        started_at=at("09:00"),
        ended_at=at("09:20"),
        laps=9,
        front_set_kpa=200.0,
        rear_set_kpa=185.0,
        front_in_kpa=235.0,
        rear_in_kpa=225.0,
        feel=models.FeelEnum.GOOD,
        key=uuid.uuid4(),
    )
    stint = robin("stints", "stints_create", body=body).parsed
    depths = [
        models.TreadItemIn(
            tire=fitting.tire,
            zone=models.ZoneEnum.C,
            taken_at=at("09:40"),
            depth_mm=4.6,
            key=uuid.uuid4(),
        )
        for fitting in fittings
    ]
    stored = robin("treads", "treads_batch", body=models.TreadBatchIn(items=depths)).parsed
    assert {item.status for item in stored.results} == {models.BatchItemStatusEnum.CREATED}
    return stint


@pytest.fixture
def hands(caller, stock_manager, fitter, rider_person, director):
    return [caller(person) for person in (stock_manager, fitter, rider_person, director)]


@pytest.fixture
def specs(front_spec, rear_spec):
    return [front_spec, rear_spec]


def test_the_main_job_is_done_with_generated_code_alone(
    generated, hands, tarn, specs, wheel_pair, day, entry, slot
):
    models = generated.models
    manager, trailer, robin, desk = hands

    lots = stock_in(manager, models, tarn, specs)
    fittings = fit(trailer, models, tarn, wheel_pair, lots)
    stint = ride(robin, models, wheel_pair, day, fittings)
    assess_changed()
    lives = robin("assessments", "assessments_list").parsed.results
    weather = models.MetarIn(day=day.pk, metar="METAR XXXX 121050Z 24008KT CAVOK 31/12 Q1016")
    desk("conditions", "conditions_metar", body=weather)
    draft = desk("days", "days_draft", day.pk).parsed
    lines = robin("days", "days_own_lines", day.pk).parsed
    bulletin = desk("days", "days_bulletins", day.pk, body=models.IssueIn(guidance=draft.id)).parsed
    public = robin("public", "public_bulletins_retrieve", day.public_code).parsed

    assert stint.distance_km == pytest.approx(9 * 4.12)
    assert {life.tire for life in lives} == {fitting.tire for fitting in fittings}
    assert all(life.remaining_days_10 <= life.remaining_days_50 <= life.remaining_days_90 for life in lives)
    assert {life.state for life in lives} <= set(models.TireStateEnum)
    assert [line.axle for line in lines] == list(models.AxleEnum)
    assert all(line.low_kpa < line.start_kpa < line.high_kpa for line in lines)
    assert (bulletin.number, bulletin.content.conditions.air_c) == (1, 31.0)
    assert public.content == bulletin.content


def test_what_is_generated_from_the_document_is_typed_through_and_through(generated):
    """The generator's own frame (``client.py``), the same for every document, is left out."""
    parts = [generated.folder / "api", generated.folder / "models"]
    said = subprocess.run(
        [
            sys.executable,
            "-m",
            "mypy",
            "--no-incremental",
            "--config-file=",
            "--follow-imports=silent",
            *parts,
        ],
        capture_output=True,
        text=True,
        check=False,
    )

    assert said.returncode == 0, said.stdout


def test_no_shape_is_named_by_a_number_or_by_its_place(generated):
    """A shape without a name of its own is called after where it stands; a map of any keys may be."""
    classes = [name for name in dir(generated.models) if name[0].isupper()]
    numbered = [name for name in classes if name[-1].isdigit() and name != "AssessmentOutProvenanceType0"]

    assert numbered == []
