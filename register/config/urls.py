"""The composition root: each app by its name, so that no import runs upwards."""

from django.urls import include, path

handler404 = "register.views.set_aside.not_found"

urlpatterns = [
    path("", include("register.urls")),
    path("", include("planning.urls")),
    path("", include("reports.urls")),
]
