"""For every write of the API the request with which somebody with the right gets through, in the world of the tests."""

import uuid
from datetime import timedelta

from api.v1.urls import router
from tests.api.world_trials import ACROSS, HEIGHTS
from tests.photos.pictures import png

FAR_ROW = "5f1c2a4e-8a53-4c3e-9a0e-3b6f0e6f2f11"


def key(number):
    return str(uuid.UUID(int=number))


def rows_by_noun(world):
    """Return ids by the names that addresses, filters and bodies use: rows of the world, then one of nobody."""
    found = {"vendor": [world.tarn, world.rows["organisation"]], "organiser": [world.longfield]}
    found |= {"placed_for": [world.tarn, world.longfield], "registered_with": [world.tarn]}
    found |= {"inspected_for": [world.longfield]}
    found |= {"person": [world.rider.person, world.director], "guidance": [world.rows["bulletin"].guidance]}
    found |= {"test": [world.rows["tire-test"]]}
    for prefix, _view, noun in router.registry:
        mine = {
            "wheel-pair": [world.wheel_pair],
            "layout": [world.layout],
            "spec": [world.front_spec],
            "tire": [world.fitted["front"].tire, world.fitted["rear"].tire],
            "rider": [world.rider],
            "bike": [world.wheel_pair.bike],
        }.get(noun, [])
        if noun in world.rows:
            found[noun.replace("-", "_")] = [*mine, world.rows[noun]]
            found[prefix] = [world.rows[noun], *mine]
    ids = {name: [str(row.pk) for row in rows] + [FAR_ROW] for name, rows in found.items()}
    return ids | {"public/bulletins": [world.rows["day"].public_code, "no-such-code"]}


def good_requests(world, unspent):
    """Return address, body, and the photo a form takes beside it, by operation."""
    row = {noun: str(one.pk) for noun, one in world.rows.items()}
    tarn, longfield, pair = str(world.tarn.pk), str(world.longfield.pk), str(world.wheel_pair.pk)
    tire, now = str(world.fitted["front"].tire_id), world.now

    def ago(minutes):
        return (now - timedelta(minutes=minutes)).isoformat()

    tread = {"tire": tire, "zone": "C", "taken_at": ago(5), "depth_mm": 4.5}
    pressure = {"tire": tire, "moment": "later", "taken_at": ago(5), "pressure_kpa": 210.0}
    heat = {"tire": tire, "zone": "C", "taken_at": ago(5), "surface_c": 61.0}
    stint = {"wheel_pair": pair, "started_at": ago(100), "ended_at": ago(80), "distance_km": 30.0}
    fit = {"wheel_pair": row["wheel-pair"], "axle": "front", "fitted_at": ago(300), "lot": row["lot"]}
    bare = str(unspent.bare_wheels.pk)
    fitted = str(world.fitted["front"].pk)
    bike, void = str(world.wheel_pair.bike_id), {"body": {"reason": "slip of the pen"}}
    shape = {"tire": tire, "quantity": "roll_out", "taken_at": ago(5), "length_mm": 1984.0}
    contour = {"tire": tire, "taken_at": ago(5), "x_mm": ACROSS, "z_mm": HEIGHTS}
    note = {
        "organisation": longfield,
        "spec": row["spec"],
        "basis": "hot",
        "pressure_kpa": 218.0,
        "noted_on": "2026-06-01",
        "source": "a notebook",
    }
    change = {
        "wheel_pair": pair,
        "part": "rear_preload",
        "before": 4,
        "after": 5,
        "unit": "turns",
        "made_at": ago(5),
    }
    requests = {
        "PUT me/units": {
            "body": {
                "pressure_unit": "bar",
                "temperature_unit": "C",
                "depth_unit": "mm",
                "distance_unit": "km",
            }
        },
        "PUT me/telling": {"body": {"choices": [{"kind": "life", "on_page": True, "by_mail": True}]}},
        "PATCH riders/{id}": {"row": str(world.rider.pk), "body": {"contact": "pit 12"}},
        "PATCH bikes/{id}": {"row": bike, "body": {"description": "1000 naked", "wheelbase_mm": 1410.0}},
        "PATCH wheel-pairs/{id}": {"row": pair, "body": {"name": "dry, black"}},
        "PATCH instruments/{id}": {"body": {"offset_kpa": 1.5, "step_kpa": 2.0}},
        "PATCH events/{id}": {"body": {"name": "Late June"}},
        "PATCH days/{id}": {"row": str(unspent.free_day.pk), "body": {"date": "2026-06-14"}},
        "PATCH groups/{id}": {"body": {"name": "Quick", "usual_lap_s": 111.0}},
        "PATCH slots/{id}": {"body": {"starts_at": ago(-40), "ends_at": ago(-60)}},
        "PATCH entries/{id}": {"body": {"number": "32", "uses_warmers": True}},
        "POST sharings": {"body": {"organisation": tarn, "scope": "stints"}},
        "POST sharings/{id}/withdraw": {},
        "POST invitations": {"body": {"rider": row["rider"]}},
        "POST invitations/{id}/revoke": {},
        "POST comparisons": {
            "body": {
                "instrument": str(world.rows["own-gauge"].pk),
                "own_kpa": 212.0,
                "master_kpa": 210.0,
                "compared_at": ago(5),
            }
        },
        "POST comparisons/{id}/void": void,
        "POST handovers": {"body": {"tire": str(world.rows["handover"].tire_id)}},
        "POST handovers/{id}/withdraw": {},
        "POST handovers/accept": {"body": {"token": unspent.handover_token}},
        "POST handovers/decline": {"body": {"token": unspent.handover_token}},
        "POST keys/{id}/revoke": {},
        "POST notices/{id}/seen": {},
        "POST shapes": {"body": shape},
        "POST shapes/batch": {"body": {"items": [shape | {"key": key(6)}]}},
        "POST shapes/{id}/void": void,
        "POST contours": {"body": contour},
        "POST contours/batch": {"body": {"items": [contour | {"key": key(8)}]}},
        "POST contours/{id}/void": void,
        "POST tire-tests": {
            "body": {
                "organisation": longfield,
                "code": "t-900",
                "bike": bike,
                "question": "Which rear lasts longer?",
                "planned_on": "2026-06-12",
                "baseline_front": str(world.front_spec.pk),
                "baseline_rear": row["spec"],
                "baseline_pair": pair,
                "candidate_front": str(world.front_spec.pk),
                "candidate_rear": str(world.fitted["rear"].tire.spec_id),
                "candidate_pair": pair,
            }
        },
        "PATCH tire-tests/{id}": {"body": {"held_constant": "fuel and damping", "wheel_teeth": 45}},
        "POST tire-tests/{id}/judge": {"body": {"verdict": "Both go well.", "judged_on": "2026-06-12"}},
        "POST tire-tests/{id}/end": {
            "row": str(unspent.judged.pk),
            "body": {"ended_on": "2026-06-12", "final_remark": "Worn evenly."},
        },
        "POST reference-notes": {"body": note},
        "PATCH reference-notes/{id}": {"body": {"track_name": "Marram Point Circuit", "air_c": 21.0}},
        "POST reference-notes/{id}/drop": {},
        "POST test-steps": {
            "body": {"test": row["tire-test"], "what": "other", "words": "look at the tread"}
        },
        "PATCH test-steps/{id}": {"body": {"state": "done"}},
        "POST test-steps/{id}/move": {"body": {"earlier": True}},
        "POST test-runs": {
            "body": {"test": str(unspent.judged.pk), "stint": row["stint"], "purpose": "settle"}
        },
        "POST test-runs/{id}/void": void,
        "POST adjustments": {"body": change},
        "POST adjustments/batch": {"body": {"items": [change | {"key": key(7)}]}},
        "POST adjustments/{id}/void": void,
        "POST riders": {"body": {"code": "r-900", "name": "Wendel Arp", "registered_with": tarn}},
        "POST bikes": {"body": {"rider": row["rider"], "code": "b-900", "description": "600 sport"}},
        "POST wheel-pairs": {"body": {"bike": row["bike"], "code": "w-900", "name": "wet"}},
        "POST wheel-pairs/{id}/use": {"row": pair},
        "POST instruments": {
            "body": {"code": "g-900", "name": "Gauge", "kind": "pressure", "organisation": tarn}
        },
        "POST lots": {
            "body": {
                "vendor": tarn,
                "spec": str(world.front_spec.pk),
                "code": "lot-900",
                "date_code": "0826",
                "quantity": 4,
                "received_at": ago(600),
            }
        },
        "POST lots/{id}/load": {"body": {"quantity": -1, "loaded_at": ago(5)}},
        "POST movements": {
            "body": {
                "lot": row["lot"],
                "kind": "counted",
                "place": "trailer",
                "quantity": 1,
                "moved_at": ago(5),
                "reason": "found one",
            }
        },
        "POST reservations": {
            "body": {
                "rider": str(world.rider.pk),
                "vendor": tarn,
                "spec": str(world.front_spec.pk),
                "quantity": 1,
                "wanted_on": now.date().isoformat(),
            }
        },
        "POST reservations/{id}/confirm": {},
        "POST reservations/{id}/set-aside": {},
        "POST reservations/{id}/end": {"body": {"reason": "none came in"}},
        "POST tires": {"body": {"rider": row["rider"], "spec": row["spec"], "vendor": tarn}},
        "POST tickets": {
            "body": {"vendor": tarn, "wheel_pair": pair, "opened_on": now.date().isoformat(), "wish": "both"}
        },
        "PATCH tickets/{id}": {
            "body": {"wish": "front only", "wishes": [{"axle": "front", "destination": "kept"}]}
        },
        "POST tickets/{id}/state": {"body": {"state": "on_machine"}},
        "POST fittings": {"body": fit | {"wheel_pair": bare}},
        "POST fittings/batch": {"body": {"items": [fit | {"wheel_pair": bare, "key": key(1)}]}},
        "POST fittings/replace": {
            "body": fit | {"fitted_at": ago(5), "reason": "worn", "destination": "scrapped", "vendor": tarn}
        },
        "POST fittings/{id}/removal": {
            "row": fitted,
            "body": {"removed_at": now.isoformat(), "reason": "worn", "destination": "kept", "vendor": tarn},
        },
        "POST fittings/{id}/void": void,
        "POST removals/{id}/void": {
            "row": str(unspent.removal.pk),
            "body": {"reason": "slip of the pen", "vendor": tarn},
        },
        "POST holds": {
            "body": {"tire": row["tire"], "placed_for": tarn, "reason": "damage", "placed_at": ago(5)}
        },
        "POST holds/{id}/lift": {"body": {"reason": "looked at it"}},
        "POST inspections": {
            "body": {
                "tire": str(world.fitted["front"].tire.pk),
                "inspected_for": longfield,
                "outcome": "pass",
                "inspected_at": ago(5),
            },
            "photo": png(8, 8),
        },
        "POST inspections/{id}/void": void,
        "POST recalls": {
            "body": {
                "entered_for": tarn,
                "reference": "W-900",
                "issued_by": "Mirrin",
                "published_on": now.date().isoformat(),
                "spec": row["spec"],
                "first_code": "0126",
                "last_code": "0226",
                "what_to_do": "Bring it to your vendor.",
            }
        },
        "POST recalls/{id}/lift": {"body": {"reason": "Mirrin took it back."}},
        "POST recalls/{id}/void": void,
        "POST recalls/{id}/contacts": {
            "body": {"rider": str(world.rider.pk), "told_for": tarn, "way": "phone", "told_at": ago(5)}
        },
        "POST sidewalls": {
            "body": {"tire": tire, "read_for": tarn, "identification": "0826", "read_at": ago(5)}
        },
        "POST events": {"body": {"organiser": longfield, "code": "e-900", "name": "Late event"}},
        "POST days": {"body": {"event": row["event"], "date": "2026-06-13", "layout": str(world.layout.pk)}},
        "POST days/{id}/draft": {},
        "POST days/{id}/bulletins": {
            "row": str(unspent.draft.day_id),
            "body": {"guidance": str(unspent.draft.pk)},
        },
        "POST groups": {"body": {"event": row["event"], "name": "Slow", "usual_lap_s": 130.0}},
        "POST slots": {
            "body": {
                "day": row["day"],
                "group": row["group"],
                "starts_at": ago(-100),
                "ends_at": ago(-120),
            }
        },
        "POST entries": {
            "body": {
                "day": str(unspent.free_day.pk),
                "bike": str(world.wheel_pair.bike_id),
                "group": str(unspent.free_day.event.groups.get().pk),
                "number": "31",
            }
        },
        "POST entries/{id}/withdraw": {},
        "POST conditions": {
            "body": {
                "day": row["day"],
                "holds_at": ago(5),
                "standing": "observed",
                "source": "thermometer",
                "air_c": 24.0,
            }
        },
        "POST conditions/metar": {
            "body": {"day": row["day"], "metar": "METAR XXXX 121050Z 24008KT CAVOK 31/12 Q1016"}
        },
        "POST conditions/{id}/void": void,
        "POST stints": {"body": stint},
        "POST stints/batch": {"body": {"items": [stint | {"key": key(2)}]}},
        "POST stints/{id}/void": void,
        "POST pressures": {"body": pressure},
        "POST pressures/batch": {"body": {"items": [pressure | {"key": key(3)}]}},
        "POST pressures/{id}/void": void,
        "POST treads": {"body": tread},
        "POST treads/batch": {"body": {"items": [tread | {"key": key(4)}]}},
        "POST treads/{id}/void": void | {"row": str(unspent.tread.pk)},
        "POST temperatures": {"body": heat},
        "POST temperatures/batch": {"body": {"items": [heat | {"key": key(5)}]}},
        "POST temperatures/{id}/void": void,
        "POST feel-notes": {"body": {"stint": row["stint"], "feel": "good"}},
        "POST feel-notes/{id}/void": void,
        "POST surface-notes": {
            "body": {"tire": tire, "look": "even", "seen_at": ago(5)},
            "photo": png(8, 8),
        },
        "POST surface-notes/{id}/void": void | {"row": str(unspent.surface_note.pk)},
        "POST advice-answers": {"body": {"stint": row["stint"], "advised": "leave it", "answer": "done"}},
        "POST advice-answers/{id}/void": void,
        "POST cycle-corrections": {"body": {"tire": tire, "stint": row["stint"]}},
        "POST cycle-corrections/{id}/void": void,
        "POST flags/{id}/acknowledge": {},
        "POST bulletins/{id}/withdraw": {"body": {"reason": "wrong air"}},
    }
    return {label.replace(" ", " /api/v1/"): request for label, request in requests.items()}
