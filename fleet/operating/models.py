"""How the jobs fare: one row for each that ever ran."""

from django.db import models


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
