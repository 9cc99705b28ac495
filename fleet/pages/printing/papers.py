"""The paper somebody prints on: named in the address, and remembered by the device from then on."""

from dataclasses import dataclass
from datetime import timedelta
from typing import Final

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from fleet.errors import Invalid

REMEMBERED: Final = timedelta(days=400)


@dataclass(frozen=True)
class Papers:
    """The papers of one kind of sheet, the first one for whoever never chose, and the cookie that remembers."""

    cookie: str
    names: dict[str, str]

    def chosen(self, request: HttpRequest) -> str:
        """Return the paper the address names, else the remembered one; an unknown one in the address is refused."""
        named = request.GET.get("paper", "")
        if named and named not in self.names:
            raise Invalid(
                f"“{named[:20]}” is no paper for this sheet: choose {' or '.join(self.names)}.", field="paper"
            )
        remembered = request.COOKIES.get(self.cookie, "")
        return named or (remembered if remembered in self.names else next(iter(self.names)))

    def remember(self, answer: HttpResponse, paper: str) -> HttpResponse:
        """Return an answer that has the device remember a paper."""
        answer.set_cookie(
            self.cookie,
            paper,
            max_age=REMEMBERED,
            secure=settings.SESSION_COOKIE_SECURE,
            httponly=True,
            samesite="Lax",
        )
        return answer


SLIP_PAPERS: Final = Papers("slip-paper", {"a6": "A6", "roll": "80 mm roll"})
LABEL_PAPERS: Final = Papers("label-paper", {"label": "Labels 62 by 29 mm", "sheet": "A4 sheet of 24"})
BULLETIN_PAPERS: Final = Papers("bulletin-paper", {"a4": "A4", "letter": "Letter"})
