"""The figures of the service in the text exposition format of Prometheus, version 0.0.4: an open standard of monitoring."""

import math
from collections import defaultdict
from collections.abc import Iterable
from threading import Lock
from typing import Final

from fleet.operating.health import Health

CONTENT_TYPE: Final = "text/plain; version=0.0.4; charset=utf-8"
Labels = tuple[tuple[str, str], ...]


class Requests:
    """What this process answered since it began: how many, and how long it took; every process counts its own."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._counts: dict[Labels, int] = defaultdict(int)
        self._seconds: dict[Labels, float] = defaultdict(float)

    def note(self, method: str, status: int, seconds: float) -> None:
        """Count one answer; methods nobody knows are counted together, so that their number stays bounded."""
        known = method if method in {"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"} else "other"
        labels = (("method", known), ("status", f"{status // 100}xx"))
        with self._lock:
            self._counts[labels] += 1
            self._seconds[labels] += seconds

    def told(self) -> tuple[dict[Labels, int], dict[Labels, float]]:
        """Return both as they are now."""
        with self._lock:
            return dict(self._counts), dict(self._seconds)


REQUESTS: Final = Requests()


def exposed(found: Health) -> str:
    """Return the figures as text."""
    counts, seconds = REQUESTS.told()
    jobs = [((("job", job.name),), job) for job in found.jobs]
    families = (
        ("fleet_part_up", "gauge", "Whether a part of the service is well.",
         [((("part", part.name),), float(part.is_well)) for part in found.parts]),
        ("fleet_job_last_success_seconds", "gauge", "When a job last ended well, in seconds since 1970.",
         [(labels, job.succeeded_at.timestamp()) for labels, job in jobs if job.succeeded_at]),
        ("fleet_job_duration_seconds", "gauge", "How long a job's last run took.",
         [(labels, job.duration_s) for labels, job in jobs if job.duration_s is not None]),
        ("fleet_job_failures_in_a_row", "gauge", "Failures of a job since it last ended well.",
         [(labels, float(job.failures)) for labels, job in jobs]),
        ("fleet_newest_job_age_seconds", "gauge", "Age of the newest job that ended well.",
         [((), found.newest_s)] if found.newest_s is not None else []),
        ("fleet_queue_messages", "gauge", "Messages that wait in a queue.",
         [((("queue", name),), float(count)) for name, count in found.queued.items()]),
        ("fleet_drafts_waiting", "gauge", "Days whose guidance is to be drafted anew.",
         [((), float(found.drafts_waiting))]),
        ("fleet_mails_waiting", "gauge", "Messages that wait to be sent by e-mail.",
         [((), float(found.mails_waiting))]),
        ("fleet_requests_total", "counter", "Requests this process answered.",
         [(labels, float(count)) for labels, count in counts.items()]),
        ("fleet_request_seconds_total", "counter", "Seconds this process spent on answering.",
         list(seconds.items())),
    )  # fmt: skip
    return "".join(_family(*family) for family in families)


def _family(name: str, kind: str, about: str, samples: Iterable[tuple[Labels, float]]) -> str:
    lines = [f"{name}{_labels(labels)} {_number(value)}\n" for labels, value in sorted(samples)]
    return f"# HELP {name} {about}\n# TYPE {name} {kind}\n{''.join(lines)}" if lines else ""


def _labels(labels: Labels) -> str:
    inner = ",".join(f'{name}="{_escaped(value)}"' for name, value in labels)
    return f"{{{inner}}}" if inner else ""


def _escaped(value: str) -> str:
    return value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")


def _number(value: float) -> str:
    return f"{value:.0f}" if math.isfinite(value) and value == int(value) else repr(value)
