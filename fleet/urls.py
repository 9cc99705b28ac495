"""Addresses of the service."""

from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("api/", include("api.urls")),
    path("", include("fleet.pages.urls")),
]

handler400 = "fleet.pages.errors.bad_request"
handler403 = "fleet.pages.errors.forbidden"
handler404 = "fleet.pages.errors.not_found"
handler500 = "fleet.pages.errors.broken"
