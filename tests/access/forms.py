"""What is sent with each form, and where each page's address leads."""

import uuid

from fleet.inventory.labels import mark_of
from fleet.inventory.models import Listing

AT = "2026-06-12T11:58"


def address_of(scene, row):
    """Return the address of a row of the table of pages."""
    rows = scene.rows
    kind = row.address.split("{")[0]
    tokens = {
        "invitation/": "invitation-token",
        "role/": "offer-token",
        "calendar/": "calendar-token",
        "handover/": "handover-token",
    }
    parts = {
        "name": "bikes",
        "what": "page",
        "code": rows["organisation"].code,
        "mark": mark_of(rows["tire"]),
        "rider": rows["rider"].pk,
        "public_code": rows["tire-test" if kind == "t/" else "day"].public_code,
        "axle": "rear",
        "number": rows["bulletin"].number,
        "tire": rows["tire"].pk,
        "group": rows["group"].pk,
        "entry": rows["entry"].pk,
        "upload": rows["roster"].pk,
        "line": rows["draft-line" if kind == "desk/days/" else "ledger-line"].pk,
        "hold": rows["day-hold"].pk,
        "inspection": rows["inspection"].pk,
        "step": rows["test-step"].pk,
        "side": "baseline",
        "run": rows["test-run"].pk,
        "note": rows["surface-note" if "/tread/" in row.address else "reference-note"].pk,
        "stint": rows["stint"].pk,
        "token": rows[tokens[kind]] if kind in tokens else "",
        "pk": rows[OF[kind]].pk if kind in OF else "",
    }
    return "/" + row.address.format(**parts)


OF = {
    "trailer/stock/": "lot",
    "trailer/tickets/": "ticket",
    "trailer/wheels/": "in-use",
    "garage/sharing/": "sharing",
    "garage/reserve/": "reservation",
    "trailer/reservations/": "reservation",
    "garage/events/": "entry",
    "garage/flags/": "flag",
    "garage/wheels/": "in-use",
    "trailer/stock/list/": "list",
    "recalls/": "recall",
    "garage/bikes/": "bike",
    "trials/": "tire-test",
    "tires/": "tire",
    "photos/": "photo",
    "garage/tires/": "tire",
    "garage/handovers/": "handover",
    "garage/comparisons/": "comparison",
    "garage/stints/": "stint",
    "desk/days/": "day",
    "desk/events/": "event",
    "invitations/": "invitation",
    "account/people/": "membership",
    "account/people/offers/": "offer",
    "account/keys/": "key",
}
"""Whose id the address of a page carries."""


def form_for(scene, label):
    """Return what a browser sends with one row of the table of pages."""
    rows = scene.rows
    key = str(uuid.uuid4())
    weather = {"air_c": "22", "holds_at": AT, "standing": "observed", "source": "thermometer", "key": key}
    fitting = {"chosen": f"lot:{rows['rear-lot'].pk}", "fitted_at": AT, "key": key}
    stint = {
        "started_at": "2026-06-12T10:00",
        "ended_at": "2026-06-12T10:20",
        "place": f"day:{rows['day'].pk}",
        "laps": "8",
        "key": key,
    }
    note = {
        "spec": rows["tire-test"].candidate_rear_id,
        "basis": "hot",
        "pressure_kpa": "31",
        "noted_on": "2026-06-12",
        "source": "a notebook",
    }
    prices = {f"price-{listing.spec_id}": "150" for listing in Listing.objects.all()}
    forms = {
        "POST trailer/wheels/{pk}/": {"wheels": "both", "wanted": "in:60", "key": key},
        "POST trailer/tickets/{pk}/wishes/": {"wheels": "rear", "wanted": "none", "key": key},
        "POST trailer/tickets/{pk}/state/": {"seen": "waiting", "state": "on_machine"},
        "POST trailer/tickets/{pk}/fit/{axle}/": fitting,
        "POST trailer/tickets/{pk}/pressures/": {"rear_kpa": "29.5", "taken_at": AT, "key": key},
        "POST trailer/tickets/{pk}/measures/": {"rear_now_gap": "14", "key": key},
        "POST trailer/stock/prices/": prices,
        "POST trailer/stock/prices/{code}/": prices,
        "POST trailer/stock/receive/": {
            "vendor": rows["organisation"].pk,
            "spec": rows["front-spec"].pk,
            "code": "new",
            "date_code": "0826",
            "quantity": "2",
            "place": "store",
            "received_at": AT,
            "key": key,
        },
        "POST trailer/stock/{pk}/": {"done": "unload", "quantity": "1", "key": key},
        "POST trailer/stock/{pk}/lines/{line}/void/": {"reason": "entered twice"},
        "POST recalls/{pk}/end/": {"how": "lift", "reason": "dealt with"},
        "POST garage/bikes/{pk}/": {"description": "1000 naked"},
        "POST trials/{pk}/plan/": {
            "question": "Which lasts longer?",
            "planned_on": "2026-06-12",
            **{
                f"{side}_{part}": getattr(rows["tire-test"], f"{side}_{part}_id")
                for side in ("baseline", "candidate")
                for part in ("front", "rear", "pair")
            },
        },
        "POST trials/{pk}/tread/{side}/": {"axle": "rear", "look": "even", "seen_at": AT, "key": key},
        "POST trials/{pk}/tread/{side}/{note}/void/": {"reason": "another zone"},
        "POST trials/{pk}/notes/": note | {"key": key},
        "POST trials/{pk}/notes/{note}/": note | {"source": "a notebook, read again"},
        "POST trials/{pk}/runs/": {"stint": rows["free-stint"].pk, "purpose": "settle", "key": key},
        "POST trials/{pk}/runs/{run}/void/": {"reason": "not counted"},
        "POST trials/{pk}/judge/": {"verdict": "Both go well.", "judged_on": "2026-06-12"},
        "POST trials/{pk}/report/": {"do": "publish", "shown": ["verdict"]},
        "POST trials/{pk}/steps/": {"words": "look at the tread"},
        "POST trials/{pk}/steps/{step}/": {"do": "done"},
        "POST trials/{pk}/measure/{side}/": {"taken_at": AT, "front_gap": "12.5", "key": key},
        "POST garage/events/": {
            "riding": f"{rows['open-day'].pk}:{rows['open-group'].pk}",
            "bike": rows["second-bike"].pk,
            "number": "55",
            "uses_warmers": "no",
        },
        "POST trailer/reservations/{pk}/step/": {"step": "confirm"},
        "POST trailer/reservations/{pk}/release/": {"reason": "none came in"},
        "POST garage/reserve/": {
            "vendor": rows["organisation"].pk,
            "spec": rows["front-spec"].pk,
            "quantity": "1",
            "wanted_on": str(scene.now.date()),
            "key": key,
        },
        "POST garage/sharing/": {"organisation": rows["organisation"].pk},
        "POST garage/wheels/{pk}/stint/": stint,
        "POST garage/gauge/": {"name": "pocket gauge", "own_kpa": "33", "master_kpa": "32", "key": key},
        "POST garage/bikes/add/": {"description": "600 sport", "wheels": "dry"},
        "POST garage/bikes/{pk}/wheels/": {"name": "wet"},
        "POST garage/wheels/{pk}/off/{axle}/": {
            "reason": "swap",
            "destination": "handed_back",
            "removed_at": AT,
            "fitting": rows["in-use"].fittings.get(axle="rear", removed_at=None).pk,
            "key": key,
        },
        "POST garage/wheels/{pk}/tire/": {"spec": rows["front-spec"].pk, "fitted_at": AT, "key": key},
        "POST garage/stints/{pk}/answer/": {"advised": "leave it", "answer": "done", "key": key},
        "POST desk/events/plan/": {
            "organiser": rows["organiser"].pk,
            "name": "New event",
            "layout": rows["layout"].pk,
            "first_day": "2026-07-04",
            "days": "1",
            "takes_entries": "no",
        },
        "POST desk/events/{pk}/": {"name": "Another name", "takes_entries": "no"},
        "POST desk/events/{pk}/days/": {"day-date": "2026-07-20", "day-layout": rows["layout"].pk},
        "POST desk/events/{pk}/groups/": {"group-name": "Slower"},
        "POST desk/events/{pk}/groups/{group}/": {f"g{rows['group'].pk.hex[:8]}-name": "Quick"},
        "POST desk/days/{pk}/timetable/": {"text": f"9:00-9:20 {rows['group'].name}", "look": ""},
        "POST desk/days/{pk}/lines/{line}/": {"set_kpa": "31", "reason": "as the maker's people said"},
        "POST desk/days/{pk}/parts/": {"parts": "hours"},
        "POST desk/days/{pk}/forecast/": {"text": "time,air_c\n14:00,21", "source": "a service", "key": key},
        "POST desk/days/{pk}/roster/walk-in/": {
            "name": "New Rider",
            "bike": "600 sport",
            "number": "555",
            "group": rows["group"].pk,
            "uses_warmers": "no",
        },
        "POST desk/days/{pk}/roster/{entry}/": {
            "number": "556",
            "group": rows["group"].pk,
            "uses_warmers": "yes",
        },
        "POST desk/days/{pk}/weather/": weather,
        "POST desk/days/{pk}/metar/": {
            "report-metar": "METAR EGYM 121050Z 24008KT 9999 FEW030 22/12 Q1016",
            "report-key": key,
        },
        "POST desk/days/{pk}/issue/": {"guidance": rows["guidance"].pk},
        "POST desk/days/{pk}/bulletins/{number}/withdraw/": {"reason": "wrong air"},
        "POST desk/days/{pk}/gate/inspect/": {
            "number": rows["entry"].number,
            "axle": "front",
            "outcome": "advise",
            "words": "worn",
            "key": key,
        },
        "POST desk/days/{pk}/inspections/{inspection}/void/": {"reason": "another tire", "number": "7"},
        "POST desk/days/{pk}/holds/{hold}/lift/": {"reason": "looked at it", "number": "7"},
        "POST invitations/": {"rider": rows["walk-in"].code},
        "POST account/people/": {"meant_for": "Ann", "role": f"{rows['organisation'].pk}/fitter"},
        "POST account/keys/": {"key": key, "owner": "own", "name": "script", "scopes": ["read"]},
        "POST units/": {
            "pressure_unit": "bar",
            "temperature_unit": "C",
            "depth_unit": "mm",
            "distance_unit": "km",
        },
    }
    return forms.get(label, {})
