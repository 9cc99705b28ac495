"""Addresses of the API, version by version; an address nobody has is answered in the API's own shape."""

from django.http import Http404
from django.urls import include, path, re_path
from rest_framework.permissions import BasePermission
from rest_framework.views import APIView

from api.permissions import Anyone
from api.reference.views import noun, overview

app_name = "api"


class NoSuchAddress(APIView):
    """Whatever no version knows."""

    authentication_classes = []
    permission_classes: list[type[BasePermission]] = [Anyone]
    schema = None

    def initial(self, *_args: object, **_kwargs: object) -> None:
        """Refuse before the method is looked at."""
        raise Http404


urlpatterns = [
    path("", overview, name="overview"),
    path("reference/<slug:name>/", noun, name="noun"),
    path("v1/", include("api.v1.urls")),
    re_path("^", NoSuchAddress.as_view()),
]
