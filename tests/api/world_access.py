"""More rows for the world: who may see what, what was told, and what a rider changed or measured."""

from datetime import timedelta

from fleet.accounts.actions import add_organisation, add_person, give_role, make_key
from fleet.accounts.models import Role
from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import note_reference
from fleet.garage.actions import add_instrument, compare_gauge, invite, share
from fleet.inventory.actions import (
    add_own_tire,
    enter_recall,
    list_spec,
    offer_tire,
    read_sidewall,
    reserve,
)
from fleet.notices.actions import tell
from fleet.running.actions import adjust, record_shape


def grow_access(world, number):
    """Add a key, a colleague, a sharing, an invitation, a notice, a reference note, an adjustment, a shape, a recall, a sidewall, an offer
    and a reservation."""
    robin = world.rider.person
    made_at = world.now + timedelta(hours=number)  # one ends before the next is made: only so many are in use
    ends_at = made_at + timedelta(minutes=30)
    key, _token = make_key(by=robin, at=made_at, expires_at=ends_at, name=f"Key {number}", scopes=["read"])
    hand = add_person(by=SERVICE, email=f"hand-{number}@example.org", name=f"Hand {number}")
    membership = give_role(by=SERVICE, person=hand, organisation=world.tarn, role=Role.FITTER)
    friend = add_organisation(
        by=SERVICE, code=f"friend-{number}", name=f"Friend {number}", is_vendor=True, is_organiser=False
    )
    sharing = share(by=robin, rider=world.rider, organisation=friend, scope="stints", at=world.now)
    invitation, _token = invite(by=hand, at=world.now, rider=world.rows["walk-in"])
    tell([robin], topic="flag", about=f"fact {number}", sentence="Look at the rear.", at=world.now)
    note = note_reference(
        by=SERVICE,
        spec=world.front_spec,
        basis="hot",
        pressure_kpa=215.0,
        noted_on=world.now.date(),
        source="paddock talk",
    )
    adjustment = adjust(
        by=robin,
        at=world.now,
        wheel_pair=world.wheel_pair,
        part="rear_preload",
        before=2,
        after=4,
        unit="turns",
        made_at=world.now,
    )
    shape = record_shape(
        by=robin,
        at=world.now,
        tire=world.fitted["rear"].tire,
        quantity="roll_out",
        taken_at=world.now,
        length_mm=1985.0,
    )
    recall = enter_recall(
        by=SERVICE,
        at=world.now,
        entered_for=world.tarn,
        reference=f"W-{number}",
        issued_by="Mirrin",
        published_on=world.now.date(),
        spec=world.rows["spec"],
        first_code="0126",
        last_code="0326",
        what_to_do="Bring it to your vendor.",
    )
    sidewall = read_sidewall(
        by=SERVICE,
        at=world.now,
        tire=world.rows["tire"],
        read_for=world.tarn,
        identification="0826",
        read_at=world.now,
    )
    listings = [
        list_spec(by=SERVICE, vendor=world.tarn, spec=spec, price=150)
        for spec in (world.front_spec, world.rows["spec"])
    ]
    reservation = reserve(
        by=SERVICE,
        at=world.now,
        rider=world.rider,
        vendor=world.tarn,
        spec=world.front_spec,
        quantity=1,
        wanted_on=world.now.date(),
    )
    handover, _token = offer_tire(
        by=robin,
        at=world.now,
        tire=add_own_tire(by=SERVICE, at=world.now, rider=world.rider, spec=world.front_spec),
    )
    gauge = add_instrument(
        by=robin, code=f"own-{number}", name="Own gauge", kind="pressure", rider=world.rider
    )
    comparison = compare_gauge(
        by=robin, at=world.now, instrument=gauge, own_kpa=212.0, master_kpa=210.0, compared_at=world.now
    )
    world.rows |= {
        "own-gauge": gauge,
        "comparison": comparison,
        "handover": handover,
        "listing": listings[-1],
        "front-listing": listings[0],
        "reservation": reservation,
        "recall": recall,
        "sidewall": sidewall,
        "key": key,
        "membership": membership,
        "sharing": sharing,
        "invitation": invitation,
        "notice": robin.notices.get(about=f"fact {number}"),
        "shared-note": note,
        "adjustment": adjustment,
        "shape": shape,
        "organisation-name": friend,
    }
