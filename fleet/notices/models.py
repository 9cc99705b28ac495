"""What was told to whom."""

from django.conf import settings
from django.db import models

from fleet.records import Noun


class Notice(Noun):
    """One sentence to one person about one fact; the same fact is never told twice."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="notices")
    topic = models.CharField(max_length=40)
    about = models.CharField(max_length=100)
    sentence = models.CharField(max_length=400)
    address = models.CharField(max_length=200, blank=True)
    told_at = models.DateTimeField()
    read_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person", "topic", "about"], name="notices_notice_told_once")
        ]
        indexes = [models.Index(fields=["person", "-told_at"], name="notices_notice_newest")]
