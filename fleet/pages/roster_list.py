"""A roster sent as a list: looked at row by row, decided where it is doubtful, taken as a whole."""

import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.accounts.policy import Right, require
from fleet.errors import NotFound, Refusal
from fleet.events.queries import by_pace
from fleet.exchange.roster_columns import named
from fleet.exchange.rosters import ROSTER, keep_roster, roster_of, rosters_for, take_roster
from fleet.exchange.uploads import records_of
from fleet.pages.asking import person_of, typed
from fleet.pages.delivery import file_field
from fleet.pages.desk import desk_day
from fleet.pages.forms import PlainForm


class RosterForm(PlainForm):
    """The file the riders are listed in."""

    file = file_field("Roster")


@require_http_methods(["GET", "HEAD", "POST"])
def send_roster(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Ask for a list, and keep its rows to look at."""
    by, at = person_of(request), timezone.now()
    day = desk_day(by, pk)
    require(by, Right.EDIT_EVENT, day.event.organiser)
    is_sent = request.method == "POST"
    form = RosterForm(request.POST if is_sent else None, request.FILES if is_sent else None)
    if is_sent and form.is_valid():
        file = form.cleaned_data["file"]
        try:
            data = file.read()
            upload = keep_roster(by=by, at=at, day=day, name=file.name, data=data)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            if left := named(records_of(data, file.name)).passed_over:
                messages.info(
                    request,
                    f"Passed over and not stored, since a roster has no use for {'it' if len(left) == 1 else 'them'}: "
                    f"{', '.join(left)[:300]}.",
                )
            return redirect("roster-list", pk, upload.pk)
    context = {
        "place": "desk",
        "day": day,
        "form": form,
        "columns": ROSTER.columns,
        "groups": by_pace(day.event.groups.all()),
    }
    return render(request, "pages/send_roster.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
def roster_list(request: HttpRequest, pk: uuid.UUID, upload: uuid.UUID) -> HttpResponse:
    """Show what a list would do to a day, and take it."""
    by, at = person_of(request), timezone.now()
    day = desk_day(by, pk)
    require(by, Right.EDIT_EVENT, day.event.organiser)
    kept = rosters_for(by).filter(pk=upload, day=day).first()
    if kept is None:
        raise NotFound("There is no such list of yours: lists are kept for a day, send it again.")
    if kept.taken_at is not None:
        messages.info(request, "This roster was taken already; it is taken once.")
        return redirect("roster", pk)
    decided = {}
    refused = ""
    found = roster_of(kept)
    if request.method == "POST":
        lines = [row.line for row in found.rows]
        decided = {line: typed(request.POST, f"decide-{line}") for line in lines}
        try:
            done = take_roster(by=by, at=at, upload=kept, decided=decided)
        except Refusal as refusal:
            refused = refusal.sentence
            found = roster_of(kept)
        else:
            entered = done["new"] + done["known"] + done["decide"]
            messages.success(request, f"The roster is taken: {entered} entered, {done['changed']} mended.")
            return redirect("roster", pk)
    context = {
        "place": "desk",
        "day": day,
        "upload": kept,
        "roster": found,
        "counted": [(word, count) for word, count in found.counted().items() if count],
        "decided": decided,
        "refused": refused,
        "parts": [
            (heading, [(row, decided.get(row.line, "")) for row in rows])
            for heading, rows in (
                ("To mend in the file", found.faulty),
                ("To decide", found.doubtful),
                ("Taken as they stand" if found.is_ready else "In order", found.plain),
            )
            if rows
        ],
    }
    return render(request, "pages/roster_list.html", context, status=422 if refused else 200)
