"""Photos: the pictures that belong to inspections and surface notes."""

from typing import Any

from django.db.models import QuerySet
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from api import scopes
from api.etags import DIGITS, is_known
from api.views import Resource
from fleet.photos.models import Photo
from fleet.photos.queries import content_of


class PngRenderer(BaseRenderer):
    """A picture as it is kept; a refusal is JSON here too."""

    media_type = "image/png"
    format = "png"
    charset = None
    render_style = "binary"

    def render(self, data: Any, accepted_media_type: Any = None, renderer_context: Any = None) -> bytes:
        """Return the bytes of an answer."""
        if data is None or isinstance(data, bytes):
            return data or b""
        refused: bytes = JSONRenderer().render(data, accepted_media_type, renderer_context)
        return refused


class PhotoView(Resource[Photo]):
    """Photos, each for whoever may read the inspection or the note it belongs to."""

    queryset = Photo.objects.none()
    renderer_classes = [PngRenderer]

    def get_queryset(self) -> QuerySet[Photo]:
        """Return the photos the asker may see."""
        return scopes.photos(self.by, self.at)

    @extend_schema(responses={(200, "image/png"): OpenApiTypes.BINARY})
    def retrieve(self, request: Request, **_address: str) -> Response:
        """Show a photo, drawn anew from its pixels."""
        photo = self.get_object()
        headers = {"ETag": f'"{photo.digest[:DIGITS]}"'}
        if is_known(request, headers["ETag"]):
            return Response(status=304, headers=headers)
        return Response(content_of(photo), headers=headers)
