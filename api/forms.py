"""Bodies that carry a photo: the same names as in JSON as parts of a form (RFC 7578), and the picture as a part with a file name."""

from collections.abc import Iterator
from hashlib import sha256
from typing import IO, Any, Final, cast

from django.core.exceptions import TooManyFieldsSent, TooManyFilesSent
from django.core.files.uploadedfile import UploadedFile
from django.http import QueryDict
from django.http.multipartparser import MultiPartParserError
from drf_spectacular.utils import extend_schema_field
from rest_framework import parsers, serializers
from rest_framework.exceptions import ParseError, ValidationError
from rest_framework.request import Request

from fleet.photos.cleaning import MOST_BYTES, too_large
from fleet.photos.errors import NoPhoto

MEDIA_TYPE: Final = "multipart/form-data"
TOO_MANY: Final = (TooManyFieldsSent, TooManyFilesSent)
UNREADABLE: Final = "The form is not readable: send the parts of multipart/form-data, each once, with the boundary that its header names."


class FormParser(parsers.MultiPartParser):
    """A form; large files are laid down on the disk while they arrive."""

    def parse(self, stream: IO[Any], media_type: str | None = None, parser_context: Any = None) -> Any:
        """Return what a form says; an unreadable one is refused."""
        try:
            return super().parse(stream, media_type, parser_context)
        except (ParseError, *TOO_MANY) as error:
            raise ParseError(UNREADABLE) from error


def is_unreadable(exc: Exception) -> bool:
    """Return whether a form could not be taken apart where its CSRF token was looked for, before any parser saw it."""
    return isinstance(exc, (MultiPartParserError, *TOO_MANY))


def is_form(request: Request) -> bool:
    """Return whether a request is a form where one is taken."""
    media_type = (request.content_type or "").partition(";")[0].strip().lower()
    return media_type == MEDIA_TYPE and any(isinstance(one, FormParser) for one in request.parsers or ())


def values_of(request: Request) -> dict[str, Any]:
    """Return the values of a form by name; one sent twice is refused, as it is in JSON."""
    form = cast("QueryDict", request.data)
    twice = [name for name, values in form.lists() if len(values) > 1]
    if twice:
        raise ValidationError({name: ["Send this once."] for name in twice})
    return {name: values[0] for name, values in form.lists()}


def digests_of(request: Request) -> Iterator[bytes]:
    """Return what two forms must share to be the same: names, values and the bytes of files; the boundary is new each time."""
    form = cast("QueryDict", request.data)
    for name, values in sorted(form.lists()):
        for value in values:
            yield sha256(name.encode()).digest()
            if isinstance(value, UploadedFile):
                value.seek(0)
                yield sha256(b"".join(value.chunks())).digest()
            else:
                yield sha256(str(value).encode()).digest()


@extend_schema_field({"type": "string", "format": "binary"})
class Photo(serializers.Field[bytes, Any, Any, Any]):
    """A photo, as a JPEG or a PNG, of at most 12 MB; it is drawn anew from its pixels."""

    def to_internal_value(self, data: Any) -> bytes:
        """Return the photo's bytes; one that is too large is refused unread."""
        if not isinstance(data, UploadedFile):
            raise ValidationError("Send the photo as a file: a part with a file name.")
        if (data.size or 0) > MOST_BYTES:
            raise too_large(data.size or 0)
        data.seek(0)  # a write that met others is tried again
        content: bytes = data.read()
        if not content:
            raise NoPhoto("The photo is empty: take it again.", field="photo")
        return content
