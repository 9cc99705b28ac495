"""The kinds of refusals with their codes: what the ``type`` of a problem points to."""

from typing import Any

from rest_framework import serializers, viewsets
from rest_framework.request import Request
from rest_framework.response import Response

from api.errors import OF_THE_TRANSPORT, STATUS_OF, refusals, title_of
from api.permissions import Anyone
from api.schema import takes


class KindOut(serializers.Serializer[Any]):
    """One kind of refusal."""

    code = serializers.CharField(help_text="Stable; what programs compare.")
    status = serializers.IntegerField(help_text="The HTTP status it comes with.")
    title = serializers.CharField(help_text="What it means in general.")


def kinds_of_refusals() -> list[dict[str, Any]]:
    """Return every kind of refusal with its code, in the order of the alphabet."""
    kinds = {
        kind.code: {"code": kind.code, "status": int(STATUS_OF[kind.kind]), "title": title_of(kind)}
        for kind in refusals()
    }
    kinds |= {
        code: {"code": code, "status": int(status), "title": title}
        for code, status, title in OF_THE_TRANSPORT
    }
    return [kinds[code] for code in sorted(kinds)]


class ProblemView(viewsets.ViewSet):
    """The kinds of refusals."""

    permission_classes = [Anyone]
    authentication_classes = []
    metadata_class = None

    @takes(None, KindOut(many=True), 200)
    def list(self, _request: Request) -> Response:
        """List every kind of refusal with its code."""
        return Response(kinds_of_refusals())
