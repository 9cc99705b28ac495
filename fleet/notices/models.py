"""What was told to whom, and what each person wants to be told and how."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from fleet.records import Noun


class Kind(models.TextChoices):
    """What there is to be told, as people choose from it."""

    STOP = "stop", "A tire of yours must not be used: a hold, a recall, a limit reached"
    LIFE = "life", "A set is likely not to last"
    BULLETIN = "bulletin", "A pressure bulletin is issued, superseded or withdrawn"
    RESERVED = "reserved", "Tires you reserved: kept, ready, released or over"


class TellingChoice(Noun):
    """How one person wants to be told about one kind of thing; without a row the kind's own default counts."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="telling_choices")
    kind = models.CharField(max_length=10, choices=Kind)
    on_page = models.BooleanField()
    by_mail = models.BooleanField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person", "kind"], name="notices_tellingchoice_once"),
            models.CheckConstraint(
                condition=~Q(kind=Kind.STOP) | Q(on_page=True), name="notices_tellingchoice_safety_on_page"
            ),
        ]


class Notice(Noun):
    """One sentence to one person about one fact; the same fact is never told twice.

    ``on_page`` and ``mail`` are what the person wanted when it was told. A mail taken up (``sending``) and never
    brought to an end is not sent again: it may have arrived.
    """

    class Mail(models.TextChoices):
        """What became of the e-mail."""

        NONE = "", "None wanted"
        WAITING = "waiting", "Waiting to be sent"
        SENDING = "sending", "Taken up"
        SENT = "sent", "Sent"
        FAILED = "failed", "Not taken by the mail service"

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="notices")
    topic = models.CharField(max_length=40)
    about = models.CharField(max_length=100)
    sentence = models.CharField(max_length=400)
    address = models.CharField(max_length=200, blank=True)
    told_at = models.DateTimeField()
    read_at = models.DateTimeField(null=True, blank=True)
    on_page = models.BooleanField(default=True)
    mail = models.CharField(max_length=8, choices=Mail, blank=True, default=Mail.NONE)
    mail_tried_at = models.DateTimeField(null=True, blank=True)
    mail_tries = models.PositiveSmallIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person", "topic", "about"], name="notices_notice_told_once")
        ]
        indexes = [
            models.Index(fields=["person", "-told_at"], name="notices_notice_newest"),
            models.Index(fields=["told_at"], condition=Q(mail="waiting"), name="notices_notice_to_mail"),
        ]
