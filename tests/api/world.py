"""A world of rows for the API to show: every call of ``grow`` adds as many rows of every noun as it is told."""

from dataclasses import dataclass, field
from datetime import timedelta
from itertools import count
from typing import Any

from fleet.accounts.actions import add_organisation, give_role
from fleet.accounts.models import Role
from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import add_line, add_spec, publish_pressure
from fleet.events.actions import (
    add_day,
    add_group,
    add_layout,
    add_slot,
    add_track,
    enter,
    plan_event,
    record_conditions,
)
from fleet.garage.actions import add_bike, add_instrument, add_wheel_pair, register_rider
from fleet.inventory.actions import (
    fit_tire,
    inspect_tire,
    place_hold,
    receive_lot,
    remove_tire,
    take_wheels_in,
)
from fleet.life.assessments import assess
from fleet.life.models import Flag
from fleet.pressures.actions import draft_day, issue_bulletin
from fleet.running.actions import (
    answer_advice,
    correct_cycle,
    log_stint,
    note_feel,
    note_surface,
    record_temperature,
    record_tread,
)
from tests.api.world_access import grow_access
from tests.api.world_trials import grow_trials
from tests.photos.pictures import png


@dataclass
class World:
    """What stands, and the last row of each noun by the name of its resource."""

    now: Any
    tarn: Any
    longfield: Any
    director: Any
    rider: Any
    wheel_pair: Any
    fitted: Any
    front_spec: Any
    layout: Any
    rows: dict[str, Any] = field(default_factory=dict)
    numbers: Any = field(default_factory=lambda: count(1))

    def grow(self, more):
        for _ in range(more):
            number = next(self.numbers)
            self._catalogue(number)
            self._customer(number)
            self._stock(number)
            self._work()
            self._day(number)
            self._running(number)
            grow_access(self, number)
            grow_trials(self, number)
        self._life()

    def enter_also(self, person):
        """Enter somebody with a bike of their own on the last day."""
        day, group = self.rows["day"], self.rows["group"]
        rider = register_rider(by=SERVICE, code="also", name=person.name, person=person)
        bike = add_bike(by=SERVICE, rider=rider, code="also", description="600 sport")
        return enter(by=SERVICE, day=day, bike=bike, group=group, number="99")

    def _catalogue(self, number):
        vendor = add_organisation(
            by=SERVICE, code=f"vendor-{number}", name=f"Vendor {number}", is_vendor=True, is_organiser=False
        )
        give_role(by=SERVICE, person=self.director, organisation=vendor, role=Role.TESTER)
        line = add_line(by=SERVICE, maker="Mirrin", name=f"Line {number}", category="slick")
        spec = add_spec(
            by=SERVICE,
            line=line,
            code=f"spec-{number}",
            axle="rear",
            size="190/55 ZR17 M/C (75W)",
            new_depth_mm=6.0,
            wear_limit_mm=1.0,
        )
        pressure = publish_pressure(
            by=SERVICE,
            line=line,
            spec=spec,
            axle="rear",
            basis="hot",
            pressure_kpa=190.0,
            published_by="Mirrin",
        )
        track = add_track(
            by=SERVICE,
            code=f"track-{number}",
            name=f"Track {number}",
            latitude_deg=50.0,
            longitude_deg=1.0,
            altitude_m=10.0,
            time_zone="Europe/London",
        )
        layout = add_layout(by=SERVICE, track=track, code=f"layout-{number}", name="Full", length_km=4.0)
        self.rows |= {
            "organisation": vendor,
            "line": line,
            "spec": spec,
            "pressure-spec": pressure,
            "track": track,
            "layout": layout,
        }

    def _customer(self, number):
        rider = register_rider(
            by=SERVICE, code=f"rider-{number}", name=f"Rider {number}", registered_with=self.tarn
        )
        bike = add_bike(by=SERVICE, rider=rider, code=f"bike-{number}", description="600 sport")
        pair = add_wheel_pair(by=SERVICE, bike=bike, code=f"pair-{number}", name="dry")
        gauge = add_instrument(
            by=SERVICE, code=f"gauge-{number}", name="Gauge", kind="pressure", organisation=self.tarn
        )
        self.rows |= {"rider": rider, "walk-in": rider, "bike": bike, "wheel-pair": pair, "instrument": gauge}

    def _stock(self, number):
        lot = receive_lot(
            by=SERVICE,
            at=self.now,
            vendor=self.tarn,
            spec=self.front_spec,
            code=f"lot-{number}",
            date_code="0826",
            quantity=4,
            received_at=self.now - timedelta(days=20),
            place="trailer",
        )
        self.rows |= {"lot": lot, "movement": lot.movements.get()}

    def _work(self):
        pair = self.rows["wheel-pair"]
        ticket = take_wheels_in(
            by=SERVICE, at=self.now, vendor=self.tarn, wheel_pair=pair, opened_on=self.now.date()
        )

        def fit(hours_ago):
            return fit_tire(
                by=SERVICE,
                at=self.now,
                wheel_pair=pair,
                axle="front",
                fitted_at=self.now - timedelta(hours=hours_ago),
                lot=self.rows["lot"],
            )

        first = fit(5)
        removal = remove_tire(
            by=SERVICE,
            at=self.now,
            fitting=first,
            removed_at=self.now - timedelta(hours=4),
            reason="swap",
            destination="handed_back",
        )
        fitting = fit(3)
        hold = place_hold(
            by=SERVICE,
            at=self.now,
            tire=first.tire,
            placed_for=self.tarn,
            reason="damage",
            placed_at=self.now - timedelta(hours=2),
        )
        inspection = inspect_tire(
            by=SERVICE,
            at=self.now,
            tire=fitting.tire,
            inspected_for=self.longfield,
            outcome="advise",
            words="Worn at the left edge.",
            inspected_at=self.now,
            photo=png(8, 8),
        )
        tread = record_tread(
            by=SERVICE, at=self.now, tire=fitting.tire, zone="C", taken_at=self.now, depth_mm=4.8
        )
        seen = note_surface(by=SERVICE, at=self.now, tire=fitting.tire, look="even", seen_at=self.now)
        self.rows |= {
            "ticket": ticket,
            "removal": removal,
            "fitting": fitting,
            "tire": fitting.tire,
            "hold": hold,
            "inspection": inspection,
            "photo": inspection.photo,
            "tread": tread,
            "surface-note": seen,
        }

    def _day(self, number):
        event = plan_event(
            by=SERVICE, organiser=self.longfield, code=f"event-{number}", name=f"Event {number}"
        )
        day = add_day(by=SERVICE, event=event, date=self.now.date(), layout=self.layout)
        group = add_group(by=SERVICE, event=event, name="Fast", usual_lap_s=112.0)
        slot = add_slot(
            by=SERVICE,
            day=day,
            group=group,
            starts_at=self.now + timedelta(minutes=30),
            ends_at=self.now + timedelta(minutes=50),
        )
        entry = enter(by=SERVICE, day=day, bike=self.wheel_pair.bike, group=group, number="7")
        conditions = record_conditions(
            by=SERVICE,
            at=self.now,
            day=day,
            holds_at=self.now,
            standing="observed",
            source="thermometer",
            air_c=31.0,
        )
        draft_day(by=SERVICE, at=self.now, day=day)
        bulletin = issue_bulletin(by=SERVICE, at=self.now, day=day)
        self.rows |= {
            "event": event,
            "day": day,
            "group": group,
            "slot": slot,
            "entry": entry,
            "conditions": conditions,
            "bulletin": bulletin,
            "public-bulletin": bulletin,
        }

    def _running(self, number):
        start = self.now - timedelta(minutes=10 * number)
        stint = log_stint(
            by=self.rider.person,
            at=self.now,
            wheel_pair=self.wheel_pair,
            day=self.rows["day"],
            started_at=start,
            ended_at=start + timedelta(minutes=8),
            laps=3,
            front_set_kpa=200.0,
        )
        tire = self.fitted["front"].tire
        temperature = record_temperature(
            by=self.rider.person,
            at=self.now,
            tire=tire,
            stint=stint,
            zone="C",
            taken_at=self.now,
            surface_c=60.0,
        )
        feel = note_feel(by=self.rider.person, at=self.now, stint=stint, feel="good")
        said = answer_advice(
            by=self.rider.person, at=self.now, stint=stint, advised="leave it", answer="done"
        )
        none = correct_cycle(by=self.rider.person, at=self.now, tire=self.fitted["rear"].tire, stint=stint)
        self.rows |= {
            "stint": stint,
            "pressure": stint.pressures.get(),
            "temperature": temperature,
            "feel-note": feel,
            "advice-answer": said,
            "cycle-correction": none,
        }

    def _life(self):
        assess(None, at=self.now)
        tires = Flag.objects.filter(cleared_at__isnull=True).values("tire")
        tire = self.rows["tire"]
        for fitted in type(self.rows["fitting"]).objects.exclude(tire__in=tires):
            Flag.objects.create(
                tire=fitted.tire, state="plan a change", binding_limit="wear", raised_at=self.now
            )
        self.rows |= {
            "assessment": tire.assessments.get(is_newest=True),
            "flag": tire.flags.get(cleared_at__isnull=True),
        }
