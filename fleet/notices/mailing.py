"""Sending what people want by e-mail: each notice at most once, however often the job runs and however many run.

Taking a notice up is committed before it is sent. What the mail service refused was not sent and is tried again; what was
cut off in the middle may have arrived, so it is left: the page says it in any case.
"""

import logging
import smtplib
from datetime import datetime, timedelta
from typing import Final

from django.conf import settings
from django.core.mail import EmailMessage
from django.db.models import F, Q, QuerySet

from fleet.notices.models import Kind, Notice
from fleet.notices.queries import KIND_OF, ways_of

log = logging.getLogger(__name__)
AT_A_TIME: Final = 200
MOST_TRIES: Final = 5
WAIT: Final = timedelta(minutes=5)
NOT_TAKEN: Final = (
    ConnectionRefusedError,
    smtplib.SMTPConnectError,
    smtplib.SMTPHeloError,
    smtplib.SMTPAuthenticationError,
    smtplib.SMTPSenderRefused,
    smtplib.SMTPRecipientsRefused,
    smtplib.SMTPDataError,
)
"""Errors after which surely nothing was sent (RFC 5321, section 4.2.5: only an accepted end of data is delivered)."""
SUBJECTS: Final = {
    Kind.STOP: "Do not ride on this tire",
    Kind.LIFE: "A tire is near its end",
    Kind.BULLETIN: "Pressure bulletin",
    Kind.RESERVED: "Your reserved tires",
}
Mail = Notice.Mail


def send_mails(*, at: datetime) -> int:
    """Send what waits; the number of mails sent is returned."""
    return sum(_send(notice, at) for notice in waiting(at).select_related("person")[:AT_A_TIME])


def waiting(at: datetime) -> QuerySet[Notice]:
    """Return the notices to be mailed now, those told first on top; a refused one waits before it is tried again."""
    is_due = Q(mail_tried_at__isnull=True) | Q(mail_tried_at__lte=at - WAIT)
    return Notice.objects.filter(is_due, mail=Mail.WAITING).order_by("told_at", "id")


def _send(notice: Notice, at: datetime) -> bool:
    taken = waiting(at).filter(pk=notice.pk).order_by()
    if not taken.update(mail=Mail.SENDING, mail_tried_at=at, mail_tries=F("mail_tries") + 1):
        return False  # another worker has it
    mine = Notice.objects.filter(pk=notice.pk)
    if not notice.person.is_active or not ways_of(notice.person)[KIND_OF[notice.topic]].by_mail:
        mine.update(mail=Mail.NONE)
        return False
    try:
        message_of(notice).send()
    except NOT_TAKEN as error:
        log.warning("The mail service did not take notice %s: %s", notice.pk, error)
        mine.filter(mail_tries__lt=MOST_TRIES).update(mail=Mail.WAITING)
        mine.filter(mail=Mail.SENDING).update(mail=Mail.FAILED)
        return False
    mine.update(mail=Mail.SENT)
    return True


def message_of(notice: Notice) -> EmailMessage:
    """Return the mail of a notice: its sentence, and where to choose otherwise, signed in."""
    page = f"{settings.PUBLIC_ADDRESS}{settings.TELLING_PAGE}" if settings.PUBLIC_ADDRESS else ""
    where = page or "your account's page, under What you are told"
    domain = settings.DEFAULT_FROM_EMAIL.rpartition("@")[2].strip("> ") or "localhost"
    headers = {"Message-ID": f"<{notice.pk}@{domain}>", "Auto-Submitted": "auto-generated"}
    if page:
        headers["List-Unsubscribe"] = f"<{page}>"
    return EmailMessage(
        subject=SUBJECTS[Kind(KIND_OF[notice.topic])],
        body=f"{notice.sentence}\n\nYou chose to be told this by e-mail. Choose otherwise: {where}\n",
        to=[notice.person.email],
        headers=headers,
    )
