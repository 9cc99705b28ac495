"""What a page says is wrong, noted for whoever reads answers with a program: the outbox on a device."""

from typing import Any, Final

from django import template

REFUSED: Final = "fleet.refused"
"""Where a request keeps why it was refused: rows of a control's id, empty for none, and a sentence."""

register = template.Library()


@register.simple_tag(takes_context=True)
def refused_of(context: dict[str, Any], form: Any) -> list[tuple[str, str]]:
    """Return what a form refuses, and note it with the request."""
    rows: list[tuple[str, str]] = form.refused() if hasattr(form, "refused") else []
    request = context.get("request")
    if rows and request is not None:
        request.META[REFUSED] = rows
    return rows


@register.simple_tag(takes_context=True)
def asked(context: dict[str, Any], question: str, field: str = "") -> str:
    """Return a question that keeps a form from being stored until it is answered, and note it with the request."""
    if (request := context.get("request")) is not None:
        request.META.setdefault(REFUSED, []).append((field, question))
    return question
