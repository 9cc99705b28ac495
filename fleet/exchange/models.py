"""Lists somebody sent to look at before they count."""

from typing import Final

from django.conf import settings
from django.db import models

from fleet.accounts.models import Organisation
from fleet.events.models import Day
from fleet.records import Noun

ERASED_CELL: Final = "(erased)"
"""What an erasure leaves of a name in a list; alone in a row of a roster, it stands for the whole row."""


class Upload(Noun):
    """The rows of a list as they stand in its file, kept until they are taken over or a day has passed.

    One with a day is that day's roster, one without a delivery.
    """

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="uploads")
    organisation = models.ForeignKey(Organisation, models.CASCADE, related_name="uploads")
    day = models.ForeignKey(Day, models.CASCADE, null=True, blank=True, related_name="+")
    file_name = models.CharField(max_length=100)
    rows = models.JSONField()
    made_at = models.DateTimeField()
    taken_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["made_at"], name="exchange_upload_oldest")]
