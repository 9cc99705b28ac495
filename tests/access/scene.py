"""Two vendors, two organisers, everybody who works there, two riders with rows, and programs with keys."""

import re
from dataclasses import dataclass, field
from datetime import timedelta
from itertools import count
from typing import Any

from django.apps import apps
from django.core.cache import cache
from django.db import transaction
from django.test import Client
from rest_framework.test import APIClient

from fleet.accounts.actions import make_key, make_organisation_key, offer_role
from fleet.accounts.models import Organisation, Role, Scope
from fleet.accounts.policy import SERVICE
from fleet.events.actions import add_day, add_group, enter, open_calendar, plan_event
from fleet.exchange.deliveries import keep_delivery
from fleet.exchange.rosters import keep_roster
from fleet.garage.actions import (
    add_bike,
    add_wheel_pair,
    invite,
    register_rider,
    share,
)
from fleet.inventory.actions import (
    add_own_tire,
    enter_recall,
    fit_tire,
    inspect_tire,
    move_stock,
    offer_tire,
    place_hold,
    remove_tire,
)
from fleet.life.models import Assessment, Flag
from fleet.notices.models import Notice
from fleet.pressures.actions import draft_day
from fleet.running.actions import log_stint
from fleet.trials.actions import publish_report
from fleet.trials.models import Part
from tests.access.table import KEYS, PEOPLE
from tests.api.world import World
from tests.conftest import somebody
from tests.photos.pictures import png

ROLES = {
    "fitter": Role.FITTER,
    "stock": Role.STOCK_MANAGER,
    "vtester": Role.TESTER,
    "crew": Role.CREW,
    "director": Role.DIRECTOR,
    "inspector": Role.INSPECTOR,
    "tester": Role.TESTER,
}
AT_VENDOR = ("fitter", "stock", "vtester")
SHARED = {"line", "spec", "pressure-spec", "track", "layout", "organisation", "shared-note"} | {
    "listing",
    "front-listing",
}
ID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")


class OwnersWorld(World):
    """A world whose customer is one rider with an account: every row is theirs, or about their wheels."""

    def _customer(self, number):
        super()._customer(number)
        spare = add_wheel_pair(
            by=SERVICE, bike=self.wheel_pair.bike, code=f"spare-{number}", name="wet", is_in_use=False
        )
        empty = add_wheel_pair(
            by=SERVICE, bike=self.wheel_pair.bike, code=f"empty-{number}", name="new", is_in_use=False
        )
        self.rows |= {
            "rider": self.rider,
            "bike": self.wheel_pair.bike,
            "wheel-pair": spare,
            "in-use": self.wheel_pair,
            "empty-pair": empty,
            "spare-tire": add_own_tire(by=SERVICE, at=self.now, rider=self.rider, spec=self.front_spec),
            "second-bike": add_bike(
                by=SERVICE, rider=self.rider, code=f"second-{number}", description="400 sport"
            ),
        }


@dataclass
class Scene:
    """Who can ask, and what there is to ask about."""

    now: Any
    clients: dict[str, APIClient] = field(default_factory=dict)
    browsers: dict[str, Client] = field(default_factory=dict)
    people: dict[str, Any] = field(default_factory=dict)
    rows: dict[str, Any] = field(default_factory=dict)
    theirs: dict[str, Any] = field(default_factory=dict)
    ids: dict[str, set[str]] = field(default_factory=dict)

    def ask(self, who, method, address, body=None, *, is_form=False):
        """Return the answer to one request, and leave no trace of it."""
        client = (self.browsers if is_form else self.clients)[who]
        cookies = client.cookies.output()
        cache.clear()
        kind = "multipart" if "photo" in (body or {}) else "json"
        shape = {} if is_form or method == "GET" else {"format": kind}
        with transaction.atomic():
            said = getattr(client, method.lower())(address, body or {}, **shape, HTTP_IF_MATCH="*")
            said.words = (
                said.getvalue().decode(errors="replace")
                if said.streaming
                else said.content.decode(errors="replace")
            )
            transaction.set_rollback(True)
        client.cookies.load(cookies.replace("Set-Cookie: ", ""))
        return said

    def strays(self, who, text):
        """Return the ids in an answer that whoever asked must not see."""
        return set(ID.findall(text)) & self.ids["kept from"][who]


def build(now, cast):
    """Return the scene around the cast's Tarn, Longfield and Robin."""
    scene = Scene(now)
    before = _all_ids()
    here = _side(scene, cast, "", cast["tarn"], cast["longfield"], count(1))
    between = _all_ids()
    there = _side(scene, cast, "b-", cast["breckside"], cast["fennock"], count(11))
    for side in (here, there):
        tire = side.rows["tire"]
        side.rows["assessment"] = tire.assessments.get(is_newest=True)
        side.rows["flag"] = tire.flags.get(cleared_at__isnull=True)
    after = _all_ids()
    scene.rows, scene.theirs = here.rows, there.rows
    shared = {str(row.pk) for side in (here, there) for noun, row in side.rows.items() if noun in SHARED}
    scene.ids = {"here": (between - before) - shared, "there": (after - between) - shared}
    for side in ("here", "there"):
        for told, whose in ((Assessment, "tire"), (Flag, "tire"), (Notice, "person__rider")):
            theirs = told.objects.filter(**{f"{whose}__in": scene.ids[side]}).values_list("pk", flat=True)
            scene.ids[side] = scene.ids[side] | {str(pk) for pk in theirs}
    _add_mate(scene, here)
    _open_day(here, now)
    draft_day(by=SERVICE, at=now, day=here.rows["day"])
    here.rows["guidance"] = here.rows["day"].guidances.get(is_newest=True)
    here.rows["draft-line"] = here.rows["guidance"].lines.filter(entry__isnull=True).order_by("axle")[0]
    _add_clients(scene, cast)
    robins = {str(pk) for pk in _robins(here.rows)}
    kept = {who: scene.ids["here" if who.startswith("b-") else "there"] for who in (*PEOPLE, "nobody")}
    kept |= {"mate": scene.ids["there"] | robins}
    kept |= dict.fromkeys(("stranger", "nobody"), scene.ids["there"] | scene.ids["here"])
    scene.ids["kept from"] = kept | {key: kept[person] for key, person in KEYS.items()}
    return scene


def _side(scene, cast, side, vendor, organiser, numbers):
    person = cast["rider_person"] if not side else somebody("Bertram Pike")
    rider = (
        cast["rider"]
        if not side
        else register_rider(
            by=SERVICE, code="b-r", name="Bertram Pike", person=person, registered_with=vendor
        )
    )
    scene.people[f"{side}owner"] = person
    for who, role in ROLES.items():
        name = f"{side}{who}".replace("-", "").capitalize()
        scene.people[f"{side}{who}"] = somebody(name, vendor if who in AT_VENDOR else organiser, role)
    if side:
        bike = add_bike(by=SERVICE, rider=rider, code="b-bike", description="600 sport")
        pair = add_wheel_pair(by=SERVICE, bike=bike, code="b-pair", name="dry")
    else:
        pair = cast["wheel_pair"]
    built = OwnersWorld(
        now=scene.now,
        tarn=vendor,
        longfield=organiser,
        director=cast["bystander"],
        rider=rider,
        wheel_pair=pair,
        fitted=cast["fit"](pair, vendor, side),
        front_spec=cast["front_spec"],
        layout=cast["layout"],
        numbers=numbers,
    )
    built.grow(1)
    built.rows |= {
        "elsewhere": built.rows["organisation"],
        "organisation": vendor,
        "organiser": organiser,
        "front-spec": built.front_spec,
        "rear-lot": built.fitted["rear"].tire.lot,
        "rear-spec": built.fitted["rear"].tire.spec,
        "free-stint": log_stint(
            by=person,
            at=scene.now,
            wheel_pair=pair,
            started_at=scene.now - timedelta(hours=3),
            ended_at=scene.now - timedelta(minutes=160),
            layout=cast["layout"],
            distance_km=30.0,
        ),
    }
    _around(scene, built, side)
    return built


def _around(scene, built, side):
    """Add what pages show beside the nouns of the API."""
    rows, now, people = built.rows, scene.now, scene.people
    rows["day-hold"] = place_hold(
        by=SERVICE, at=now, tire=rows["tire"], placed_for=built.longfield, reason="inspection", placed_at=now
    )
    rows["inspection"] = inspect_tire(
        by=SERVICE,
        at=now,
        tire=rows["tire"],
        inspected_for=built.longfield,
        outcome="advise",
        words="worn",
        inspected_at=now,
        photo=png(8, 8),
    )
    rows["photo"] = rows["inspection"].photo
    off = remove_tire(
        by=people[f"{side}fitter"],
        at=now,
        vendor=built.tarn,
        fitting=fit_tire(
            by=SERVICE,
            at=now,
            wheel_pair=rows["empty-pair"],
            axle="front",
            fitted_at=now - timedelta(hours=3),
            tire=add_own_tire(by=SERVICE, at=now, rider=built.rider, spec=built.front_spec),
        ),
        removed_at=now - timedelta(hours=2),
        reason="swap",
        destination="kept",
    )
    rows["removal"] = off
    invitation, token = invite(by=people[f"{side}fitter"], at=now, rider=rows["walk-in"])
    offer, role_token = offer_role(
        by=people[f"{side}stock"],
        at=now,
        organisation=built.tarn,
        role=Role.FITTER,
        meant_for="Somebody",
    )
    rows["ledger-line"] = move_stock(
        by=SERVICE,
        at=now,
        lot=rows["lot"],
        kind="counted",
        place="trailer",
        quantity=1,
        moved_at=now,
        reason="found one",
    )
    rows["recall"] = enter_recall(
        by=SERVICE,
        at=now,
        reference=f"{side}2026-1",
        issued_by="Mirrin",
        published_on=now.date(),
        first_code="0126",
        last_code="0226",
        what_to_do="Do not ride on it.",
        spec=rows["spec"],
        entered_for=built.tarn,
    )
    share(by=built.rider.person, rider=built.rider, organisation=built.longfield, scope="stints", at=now)
    rows["tire-test"] = publish_report(by=SERVICE, test=rows["tire-test"], shown=Part.values)
    rows["list"] = keep_delivery(
        by=people[f"{side}stock"], at=now, vendor=built.tarn, name="list.csv", data=b"tire,count\nx,2\n"
    )
    rows["roster"] = keep_roster(
        by=people[f"{side}crew"],
        at=now,
        day=rows["day"],
        name="roster.csv",
        data=f"number,name,group,bike\n901,New Rider,{rows['group'].name},600 sport\n".encode(),
    )
    gift = add_own_tire(by=SERVICE, at=now, rider=built.rider, spec=built.front_spec)
    rows["handover"], rows["handover-token"] = offer_tire(by=built.rider.person, at=now, tire=gift)
    rows["gift"] = gift
    _, rows["calendar-token"] = open_calendar(by=SERVICE, at=now, rider=built.rider)
    rows |= {
        "invitation": invitation,
        "invitation-token": token,
        "offer": offer,
        "offer-token": role_token,
        "membership": people[f"{side}fitter"].memberships.get(),
    }


def _add_mate(scene, here):
    person = somebody("Maud Teller")
    rider = register_rider(by=SERVICE, code="mate", name="Maud Teller", person=person)
    bike = add_bike(by=SERVICE, rider=rider, code="mate", description="600 sport")
    enter(by=SERVICE, day=here.rows["day"], bike=bike, group=here.rows["group"], number="99")
    scene.people |= {"mate": person, "stranger": somebody("Sten Loxley")}


def _open_day(here, now):
    """Add an event that takes entries: everybody who rides may see it, and nothing of who rides there."""
    event = plan_event(
        by=SERVICE, organiser=here.longfield, code="open", name="Open Saturday", takes_entries=True
    )
    here.rows["open-day"] = add_day(
        by=SERVICE, event=event, date=now.date() + timedelta(days=1), layout=here.layout
    )
    here.rows["open-group"] = add_group(by=SERVICE, event=event, name="Slow")


def _add_clients(scene, cast):
    for who, person in scene.people.items():
        scene.clients[who] = APIClient()
        scene.browsers[who] = Client()
        scene.clients[who].force_login(person)
        scene.browsers[who].force_login(person)
    scene.clients["nobody"], scene.browsers["nobody"] = APIClient(), Client()
    made = {
        "stock-key": (scene.people["stock"], cast["tarn"], Role.STOCK_MANAGER),
        "director-key": (scene.people["director"], cast["longfield"], Role.DIRECTOR),
    }
    for who, (maker, organisation, role) in made.items():
        key, token = make_organisation_key(
            by=maker, at=scene.now, organisation=organisation, role=role, name=who, scopes=list(Scope)
        )
        scene.people[who] = key.person
        scene.clients[who] = _bearer(token)
    _, token = make_key(by=scene.people["owner"], at=scene.now, name="reads", scopes=[Scope.READ])
    scene.people["owner-read-key"] = scene.people["owner"]
    scene.clients["owner-read-key"] = _bearer(token)


def _bearer(token):
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {token}")
    return client


def _all_ids():
    """Return the ids of every row that stands."""
    # What is computed and told about all tires at once belongs to the side of its owner, whenever that happened; the
    # names of organisations are no secret.
    models = [
        model
        for model in apps.get_models()
        if model._meta.pk.get_internal_type() == "UUIDField"
        and model not in (Assessment, Flag, Notice, Organisation)
    ]
    return {str(pk) for model in models for pk in model._base_manager.values_list("pk", flat=True)}


def _robins(rows):
    """Return the ids of what another entrant of the same day must not see of the owner."""
    nouns = (
        "rider bike wheel-pair tire ticket fitting removal hold tread surface-note entry stint pressure temperature "
        "feel-note assessment flag lot movement instrument"
    )
    return [rows[noun].pk for noun in nouns.split()]
