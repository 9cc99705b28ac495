"""How the jobs fare: one row for each that ever ran."""

from typing import Final

from django.db import models

TOO_LONG: Final = "billiard.exceptions.TimeLimitExceeded"
KILLED: Final = "billiard.exceptions.WorkerLostError"


class JobState(models.Model):
    """How a job's last run went; ``failures`` counts those in a row, and ``next_try_at`` when it is tried again after one."""

    name = models.CharField(max_length=100, primary_key=True)
    started_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    succeeded_at = models.DateTimeField(null=True, blank=True)
    duration_s = models.FloatField(null=True, blank=True)
    failures = models.PositiveIntegerField(default=0)
    failing_since = models.DateTimeField(null=True, blank=True)
    next_try_at = models.DateTimeField(null=True, blank=True)
    kind = models.CharField(max_length=150, blank=True)
    place = models.CharField(max_length=300, blank=True)
    task_id = models.CharField(max_length=64, blank=True)

    def __str__(self) -> str:
        return self.name

    @property
    def reason(self) -> str:
        """Why its last run failed, for an operator; nothing where it ended well."""
        if self.kind == TOO_LONG:
            ran = "" if self.duration_s is None else f" after {self.duration_s:.0f} s"
            return f"cut off{ran}: it ran longer than a job may"
        if self.kind == KILLED:
            by = f" by {self.place}" if self.place else ""
            return f"its process was ended{by}: look whether memory is short"
        return f"{self.kind} at {self.place or 'a place outside the service'}" if self.kind else ""
