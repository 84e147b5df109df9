"""Addresses of the planning pages, one module per noun."""

from django.urls import URLPattern, URLResolver

from planning.urls import history, record, theatre

urlpatterns: list[URLPattern | URLResolver] = [
    *record.urlpatterns,
    *theatre.urlpatterns,
    *history.urlpatterns,
]
