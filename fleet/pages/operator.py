"""For those who run the service: its jobs with what is wrong with each, its health as JSON, and its figures."""

import hmac
from dataclasses import asdict
from ipaddress import ip_address

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from fleet.accounts.policy import require_operator
from fleet.operating import states
from fleet.operating.actions import run_job
from fleet.operating.health import LIMIT, Health, health
from fleet.operating.metrics import CONTENT_TYPE, exposed
from fleet.pages.asking import person_of, typed


@require_safe
def jobs(request: HttpRequest) -> HttpResponse:
    """Show how the parts are and how every job fares."""
    require_operator(person_of(request))
    at = timezone.now()
    found, lost = health(at=at), states.lost(before=at - LIMIT)
    ordered = sorted(found.jobs, key=lambda job: (-job.failures, job not in lost, job.name))
    return render(request, "pages/jobs.html", {"found": found, "jobs": ordered, "lost": lost})


@require_POST
def run(request: HttpRequest) -> HttpResponse:
    """Have a job run again now."""
    name = typed(request.POST, "name")
    run_job(by=person_of(request), at=timezone.now(), name=name)
    messages.success(request, f"{name} is sent to the workers: look again in a moment.")
    return redirect("jobs")


@login_not_required
@never_cache
@require_safe
def health_as_json(request: HttpRequest) -> HttpResponse:
    """Tell a monitor how every part is; 503 where one is not well."""
    _require_monitor(request)
    found = health(at=timezone.now())
    return JsonResponse(_told(found), status=200 if found.is_well else 503)


@login_not_required
@never_cache
@require_safe
def metrics(request: HttpRequest) -> HttpResponse:
    """Tell a monitor the figures of the service."""
    _require_monitor(request)
    return HttpResponse(exposed(health(at=timezone.now())), content_type=CONTENT_TYPE)


def _told(found: Health) -> dict[str, object]:
    newest = None if found.newest_s is None else round(found.newest_s, 1)
    return {
        "is_well": found.is_well,
        "parts": [asdict(part) for part in found.parts],
        "newest_job_age_s": newest,
        "drafts_waiting": found.drafts_waiting,
        "mails_waiting": found.mails_waiting,
        "queued": found.queued,
    }


def _require_monitor(request: HttpRequest) -> None:
    """Let a monitor in by its token, and where none is set whatever asks on this machine itself, through no proxy."""
    sent = request.headers.get("Authorization", "").removeprefix("Bearer ")
    if settings.METRICS_TOKEN:
        is_known = hmac.compare_digest(sent.encode(), settings.METRICS_TOKEN.encode())
    else:
        is_known = _is_this_machine(request)
    if not is_known:
        raise Http404


def _is_this_machine(request: HttpRequest) -> bool:
    if "X-Forwarded-For" in request.headers or settings.SECURE_PROXY_SSL_HEADER:
        return False
    try:
        return ip_address(request.META.get("REMOTE_ADDR", "")).is_loopback
    except ValueError:
        return False
