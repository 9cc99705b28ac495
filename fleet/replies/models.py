"""What was answered to a request that carried a key."""

from django.conf import settings
from django.db import models

from fleet.records import Noun

KEY_CHARACTERS = 64


class Reply(Noun):
    """One person's key with the request it was first sent with and, once there is one, its answer.

    The id is the claim of whoever carries the request out: a claim that is taken over gets a new row.
    """

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="replies")
    key = models.CharField(max_length=KEY_CHARACTERS)
    request_digest = models.CharField(max_length=64)
    claimed_at = models.DateTimeField()
    answered_at = models.DateTimeField(null=True, blank=True)
    status = models.PositiveSmallIntegerField(null=True, blank=True)
    headers = models.JSONField(default=dict, blank=True)
    body = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person", "key"], name="replies_reply_key_of_person"),
            models.CheckConstraint(
                condition=models.Q(answered_at__isnull=True, status__isnull=True)
                | models.Q(answered_at__isnull=False, status__isnull=False),
                name="replies_reply_answer_has_status",
            ),
        ]
        indexes = [models.Index(fields=["claimed_at"], name="replies_reply_oldest")]
