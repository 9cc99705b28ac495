"""Showing a report to anybody who has its link, and taking that back."""

import secrets
from collections.abc import Sequence
from typing import Final

from django.db import transaction

from fleet.accounts.models import What
from fleet.accounts.policy import Actor
from fleet.accounts.trail import kept_by, note
from fleet.errors import Invalid
from fleet.records import save_changes
from fleet.trials.models import Part, TireTest
from fleet.trials.queries import require_opened, require_tester

CODE_BYTES: Final = 18


@transaction.atomic
def publish_report(*, by: Actor, test: TireTest, shown: Sequence[str]) -> TireTest:
    """Let anybody with the link read the chosen parts; a link there is already shows other parts from now on."""
    require_tester(by, test.organisation)
    require_opened(by, test)
    chosen = [part for part in Part.values if part in shown]
    if not chosen:
        raise Invalid("Choose at least one part to show.", field="shown")
    if unknown := sorted(set(shown) - set(chosen)):
        raise Invalid(f"A report has no part {unknown[0]!r}: choose from the list.", field="shown")
    before = {"shown": test.shown} if test.public_code else None
    test.public_code = test.public_code or secrets.token_urlsafe(CODE_BYTES)
    test.shown = chosen
    save_changes(test, "public_code", "shown")
    owners = kept_by(test.organisation, rider=test.bike.rider_id)
    note(test, What.GRANTED, by=by, before=before, after={"shown": chosen}, **owners)
    return test


@transaction.atomic
def withdraw_report(*, by: Actor, test: TireTest) -> TireTest:
    """Let the link lead nowhere from now on; a second time changes nothing."""
    require_tester(by, test.organisation)
    if test.public_code is None:
        return test
    test.public_code, was = None, test.shown
    test.shown = []
    save_changes(test, "public_code", "shown")
    owners = kept_by(test.organisation, rider=test.bike.rider_id)
    note(test, What.TAKEN_BACK, by=by, before={"shown": was}, **owners)
    return test
