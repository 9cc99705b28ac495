"""Recalls: which notices there are, what each touches, whom to tell, and what stands on the sidewalls."""

import uuid
from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.accounts.models import Organisation, Person
from fleet.accounts.policy import Right, may, organisations
from fleet.errors import NotAllowed, NotFound, Refusal
from fleet.inventory.actions import lift_recall, read_sidewall, record_contact, void_recall
from fleet.inventory.models import RecallContact, RecallNotice
from fleet.inventory.queries import in_reach
from fleet.life.affected import Affected, affected_by, recalls_for
from fleet.pages.asking import PLACES, opens, person_of
from fleet.pages.forms import KeyField, PlainForm
from fleet.pages.trailer import local_today, trailer_zone


class EndForm(PlainForm):
    """Why a notice ends: its issuer took it back or it was dealt with, or it was entered wrongly."""

    LIFT, VOID = "lift", "void"
    how = forms.ChoiceField(
        label="Why it ends",
        choices=[
            (LIFT, "It was taken back by its issuer, or dealt with"),
            (VOID, "It was entered wrongly: I enter it anew"),
        ],
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(label="In your words", max_length=300)


class ContactForm(PlainForm):
    """How a rider was told."""

    way = forms.ChoiceField(label="Told", choices=RecallContact.Way.choices, widget=forms.RadioSelect)
    key = KeyField()


class SidewallForm(PlainForm):
    """What stands on a tire."""

    identification = forms.CharField(label="Number on the sidewall", max_length=20)
    key = KeyField()


@require_safe
def recalls(request: HttpRequest) -> HttpResponse:
    """Show the notices, those in force first."""
    by = person_of(request)
    place = require_recalls(by)
    rows = list(recalls_for(by))
    in_force = [row for row in rows if row.lifted_at is None and row.voided_at is None]
    context = {
        "place": place,
        "in_force": in_force,
        "ended": [row for row in rows if row not in in_force],
        "may_enter": organisations(by, Right.RECALL).exists(),
    }
    return render(request, "pages/recalls.html", context)


@require_safe
def recall(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show what one notice touches."""
    by = person_of(request)
    return _show(request, by, recall_of(by, pk))


@require_POST
def end(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Lift a notice, or void one that was entered wrongly."""
    by = person_of(request)
    notice = recall_of(by, pk)
    form = EndForm(request.POST)
    if not form.is_valid():
        return _show(request, by, notice, form=form)
    act = lift_recall if form.cleaned_data["how"] == EndForm.LIFT else void_recall
    try:
        act(by=by, at=timezone.now(), notice=notice, reason=form.cleaned_data["reason"])
    except Refusal as refusal:
        form.refuse(refusal)
        return _show(request, by, notice, form=form)
    messages.success(request, f"{notice} stops nothing any more; it stays readable.")
    return redirect("recall", pk)


@require_POST
def told(request: HttpRequest, pk: uuid.UUID, rider: uuid.UUID) -> HttpResponse:
    """Note that somebody told a rider."""
    by, at = person_of(request), timezone.now()
    notice = recall_of(by, pk)
    form = ContactForm(request.POST, auto_id=False)
    found = affected_by(by, notice, at=at)
    row = next((one.rider for one in found.riders if one.rider.pk == rider), None)
    if row is None:
        raise NotFound("There is no such rider on this list: choose one from it.")
    if not form.is_valid():
        return _show(request, by, notice, form=form, found=found)
    given = form.cleaned_data
    try:
        record_contact(
            by=by,
            at=at,
            notice=notice,
            rider=row,
            told_for=_teller(by, notice, rider),
            way=given["way"],
            told_at=at,
            key=uuid.uuid5(given["key"], str(rider)),
        )
    except Refusal as refusal:
        form.refuse(refusal)
        return _show(request, by, notice, form=form, found=found)
    messages.success(request, f"Noted: {row} was told.")
    return redirect("recall", pk)


@require_POST
def sidewall(request: HttpRequest, pk: uuid.UUID, tire: uuid.UUID) -> HttpResponse:
    """Note what stands on a touched tire, which may let it go."""
    by, at = person_of(request), timezone.now()
    notice = recall_of(by, pk)
    found = affected_by(by, notice, at=at)
    row = next((one.tire for one in found.tires if one.tire.pk == tire), None)
    if row is None:
        raise NotFound("There is no such tire on this list: choose one from it.")
    form = SidewallForm(request.POST, auto_id=False)
    if not form.is_valid():
        return _show(request, by, notice, form=form, found=found, tried=tire)
    try:
        read_sidewall(
            by=by,
            at=at,
            tire=row,
            read_for=_teller(by, notice, row.owner_id),
            identification=form.cleaned_data["identification"],
            read_at=at,
            key=uuid.uuid5(form.cleaned_data["key"], str(tire)),
        )
    except Refusal as refusal:
        form.refuse(refusal)
        return _show(request, by, notice, form=form, found=found, tried=tire)
    touched = {one.tire.pk for one in affected_by(by, notice, at=at).tires}
    said = "it is recalled and stays off the track" if tire in touched else "this recall does not touch it"
    messages.success(request, f"{row}: {said}.")
    return redirect("recall", pk)


def require_recalls(by: Person) -> str:
    """Return the place somebody looks after recalls from; riders find theirs in the garage."""
    if not organisations(by, Right.READ_RECALLS).exists():
        raise NotAllowed(
            "Recalls are looked after by vendors' and organisers' crews: what touches your own tires stands in your garage."
        )
    return next((one.route for one in PLACES if one.right is not None and opens(by, one)), "")


def recall_of(by: Person, pk: uuid.UUID) -> RecallNotice:
    """Return a notice somebody may read."""
    require_recalls(by)
    found = recalls_for(by).filter(pk=pk).first()
    if found is None:
        raise NotFound("There is no such recall for you: choose one from the list.")
    return found


def _teller(by: Person, notice: RecallNotice, rider: uuid.UUID) -> Organisation:
    """Return in whose name somebody deals with a rider: an organisation of theirs that has this rider in reach."""
    since = notice.recorded_at.date()
    own = organisations(by, Right.FIT) | organisations(by, Right.HOLD) | organisations(by, Right.RECALL)
    rows = own.filter(pk=notice.entered_for_id) if notice.entered_for_id else own
    for organisation in rows.order_by("name"):
        if in_reach(organisation, since=since).filter(pk=rider).exists():
            return organisation
    raise NotAllowed("Your role does not include this: ask the stock manager, an inspector or the director.")


def _show(
    request: HttpRequest,
    by: Person,
    notice: RecallNotice,
    *,
    form: PlainForm | None = None,
    found: Affected | None = None,
    tried: uuid.UUID | None = None,
) -> HttpResponse:
    at: datetime = timezone.now()
    is_standing = notice.lifted_at is None and notice.voided_at is None
    acts = any(organisations(by, right).exists() for right in (Right.FIT, Right.HOLD, Right.RECALL))
    reads = any(organisations(by, right).exists() for right in (Right.FIT, Right.HOLD))
    context: dict[str, Any] = {
        "place": require_recalls(by),
        "notice": notice,
        "is_standing": is_standing,
        "found": found or affected_by(by, notice, at=at),
        "zone": trailer_zone(by, at),
        "today": local_today(by, at),
        "form": form,
        "tried": tried,
        "end_form": form if isinstance(form, EndForm) else EndForm(),
        "contact_form": form if isinstance(form, ContactForm) else ContactForm(),
        "sidewall_form": form if isinstance(form, SidewallForm) else SidewallForm(),
        "may_tell": is_standing and acts,
        "may_read": is_standing and reads,
        "may_end": is_standing
        and notice.entered_for is not None
        and may(by, Right.RECALL, notice.entered_for),
    }
    return render(request, "pages/recall.html", context, status=422 if form is not None else 200)
