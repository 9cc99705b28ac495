"""A tire's label: a code that leads to it, its short code, spec and date code; singly, or both of a ticket, or on a sheet."""

import uuid
from dataclasses import asdict, dataclass
from typing import Any, Final

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_safe

from fleet.accounts.models import Person
from fleet.catalogue.models import AXLES
from fleet.errors import Invalid, NotAllowed, NotFound
from fleet.inventory.labels import date_code_of, in_groups
from fleet.inventory.models import Tire
from fleet.inventory.queries import last_fitted_by
from fleet.life.queries import tires_for, tires_to_label
from fleet.pages.asking import person_of
from fleet.pages.guided import mounted_on
from fleet.pages.printing.codes import address_in_words, address_of, as_image, drawn, leads_here_only
from fleet.pages.printing.papers import LABEL_PAPERS
from fleet.pages.printing.typesetting import pdf_answer
from fleet.pages.ticket import ticket_of

PLACES: Final = 24
"""Labels of 70 by 37 mm on an A4 sheet, three beside eight below each other."""
LONG_SPEC: Final = 45


@dataclass(frozen=True)
class Label:
    """Every word of a label and its drawing; nothing about the rider, for a label is read by whoever finds the wheel."""

    code: str
    spec: str
    told: str
    site: str
    mark: str
    drawing: str

    @property
    def is_long(self) -> bool:
        """Return whether the spec needs smaller letters."""
        return len(self.spec) > LONG_SPEC

    @property
    def image(self) -> str:
        """Return the drawing as a page shows it."""
        return as_image(self.drawing)


@dataclass(frozen=True)
class Job:
    """Labels to print together: what they are about, where the way back leads, and the same job as PDF."""

    title: str
    tires: list[Tire]
    place: str
    back: str
    back_to: str
    as_pdf: str
    name: str


@require_safe
def label(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show the label of one tire, to print from the browser."""
    return _page(request, _job_of_tire(person_of(request), pk))


@require_safe
def label_pdf(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Answer with the label of one tire as PDF."""
    return _pdf(request, _job_of_tire(person_of(request), pk))


@require_safe
def ticket_labels(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Show the labels of both tires of a ticket."""
    return _page(request, _job_of_ticket(person_of(request), pk))


@require_safe
def ticket_labels_pdf(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Answer with the labels of both tires of a ticket as PDF."""
    return _pdf(request, _job_of_ticket(person_of(request), pk))


def label_of(tire: Tire, request: HttpRequest) -> Label:
    """Return the words of a tire's label."""
    code = date_code_of(tire)
    site, mark = address_in_words(tire, request)
    return Label(
        code=in_groups(tire.label_code),
        spec=str(tire.spec),
        told=f"{tire.spec.get_axle_display()}, date code {code}" if code else tire.spec.get_axle_display(),
        site=site,
        mark=mark,
        drawing=drawn(address_of(tire, request)),
    )


def _job_of_tire(by: Person, pk: uuid.UUID) -> Job:
    on = timezone.now().date()
    tire = tires_to_label(by, on=on).filter(pk=pk).select_related("spec__line", "owner", "lot").first()
    if tire is None:
        if tires_for(by, on=on).filter(pk=pk).exists():
            raise NotAllowed(
                "Labels are printed by a tire's owner and at the trailer that serves them: ask there."
            )
        raise NotFound("There is no such tire for you: choose one from your own page.")
    return Job(
        title=f"Label {in_groups(tire.label_code)}",
        tires=[tire],
        place="garage" if tire.owner.person_id == by.pk else "trailer",
        back=reverse("tire", args=[pk]),
        back_to=str(tire.spec),
        as_pdf=reverse("label-pdf", args=[pk]),
        name=f"label-{slugify(tire.label_code)}",
    )


def _job_of_ticket(by: Person, pk: uuid.UUID) -> Job:
    ticket = ticket_of(by, pk)
    mounted = mounted_on(ticket.wheel_pair)
    return Job(
        title=f"Labels of ticket {ticket.number}",
        tires=[mounted[axle].fitting.tire for axle in AXLES if axle in mounted],
        place="trailer",
        back=reverse("ticket", args=[pk]),
        back_to=f"Ticket {ticket.number}, {ticket.wheel_pair.bike.rider}",
        as_pdf=reverse("ticket-labels-pdf", args=[pk]),
        name=f"labels-{ticket.number}",
    )


def _page(request: HttpRequest, job: Job) -> HttpResponse:
    paper, first = LABEL_PAPERS.chosen(request), _first_free(request)
    context: dict[str, Any] = {
        "place": job.place,
        "job": job,
        "labels": [label_of(tire, request) for tire in job.tires],
        "paper": paper,
        "papers": LABEL_PAPERS.names.items(),
        "first": first,
        "used": range(first - 1) if paper == "sheet" else [],
        "most": PLACES,
        "leads_here_only": leads_here_only(request),
        "tells_nobody": [in_groups(tire.label_code) for tire in job.tires if last_fitted_by(tire) is None],
    }
    return LABEL_PAPERS.remember(render(request, "pages/label.html", context), paper)


def _pdf(request: HttpRequest, job: Job) -> HttpResponse:
    if not job.tires:
        raise NotFound("No tire is on these wheels, so there is no label to print: fit one first.")
    words = {
        "title": job.title,
        "labels": [asdict(label_of(tire, request)) for tire in job.tires],
        "paper": LABEL_PAPERS.chosen(request),
        "first": _first_free(request),
    }
    return pdf_answer("label", words, name=job.name)


def _first_free(request: HttpRequest) -> int:
    text = request.GET.get("first", "1").strip()
    if text not in map(str, range(1, PLACES + 1)):
        raise Invalid(
            f"A sheet has the places 1 to {PLACES}: give the number of the first that is free.", field="first"
        )
    return int(text)
