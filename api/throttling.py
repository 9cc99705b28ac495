"""How many requests a minute are answered: each key by itself, and people on the pages by their account."""

import logging
from typing import Any, Final

from django.conf import settings
from django.core.cache import cache
from django.utils import timezone
from redis.exceptions import RedisError
from rest_framework.request import Request
from rest_framework.throttling import BaseThrottle

from fleet.accounts.models import ApiKey

WINDOW_S: Final = 60
log = logging.getLogger(__name__)


class EachAsker(BaseThrottle):
    """So many requests in each minute of the clock; nobody is counted for another's, and what is public is not counted.

    Whoever cannot be counted, since the place of the counts is down, is let through: a limit is no reason to stop.
    """

    def allow_request(self, request: Request, view: Any) -> bool:  # noqa: ARG002 - the framework's signature
        """Count a request, and return whether it is still within the limit."""
        most = settings.API_REQUESTS_PER_MINUTE
        asker = _asker(request)
        if not most or asker is None:
            return True
        now_s = timezone.now().timestamp()
        self.left_s = WINDOW_S - now_s % WINDOW_S
        return _counted(f"api:{asker}:{int(now_s // WINDOW_S)}") <= most

    def wait(self) -> float:
        """Return the seconds until the next minute begins."""
        return self.left_s


def _asker(request: Request) -> str | None:
    if isinstance(request.auth, ApiKey):
        return f"key:{request.auth.pk}"
    return f"person:{request.user.pk}" if request.user else None


def _counted(name: str) -> int:
    """Return how many requests were counted under a name, this one included; none where they cannot be counted."""
    try:
        cache.add(name, 0, timeout=2 * WINDOW_S)
        return int(cache.incr(name))
    except (RedisError, OSError) as error:
        log.warning("Requests are not counted (%s); all are answered.", error)
    except ValueError:  # thrown out of a full memory between the two calls
        log.warning("A count of requests was lost; this one is answered.")
    return 0
