"""A mail service that notes each mail it takes as one line of a file, whichever process sends it."""

import os
from pathlib import Path

from django.core.mail.backends.base import BaseEmailBackend


class Mailbox(BaseEmailBackend):
    """Takes every mail."""

    def send_messages(self, email_messages):
        for mail in email_messages:
            line = f"{mail.to[0]} {mail.extra_headers['Message-ID']}\n"
            handle = os.open(Path(os.environ["MAILBOX"]), os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
            os.write(handle, line.encode())
            os.close(handle)
        return len(email_messages)
