"""A removal is voided by the side that wrote it: its rider, or the crew of a vendor that serves the rider."""

from datetime import timedelta

import pytest

from fleet.errors import NotAllowed
from fleet.inventory.actions import remove_tire, void_removal


@pytest.fixture
def off(fitted, now):
    """Take Robin's rear tire off, by somebody and in a vendor's name or the rider's own."""

    def take(by, vendor=None):
        return remove_tire(
            by=by,
            at=now,
            fitting=fitted["rear"],
            removed_at=now - timedelta(hours=1),
            reason="swap",
            destination="kept",
            vendor=vendor,
        )

    return take


def test_a_rider_voids_an_own_removal_and_not_the_trailers(off, rider_person, fitter, tarn, now):
    own = off(rider_person)
    void_removal(by=rider_person, at=now, removal=own, reason="was the front")
    theirs = off(fitter, tarn)

    with pytest.raises(NotAllowed, match="ask at the trailer"):
        void_removal(by=rider_person, at=now, removal=theirs, reason="not true")


def test_a_colleague_at_the_trailer_voids_its_removal_and_not_the_riders(
    off, rider_person, fitter, stock_manager, tarn, now
):
    theirs = off(fitter, tarn)
    void_removal(by=stock_manager, at=now, removal=theirs, reason="was the front", vendor=tarn)
    own = off(rider_person)

    with pytest.raises(NotAllowed, match="ask the rider"):
        void_removal(by=fitter, at=now, removal=own, reason="not true", vendor=tarn)
