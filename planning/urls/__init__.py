"""Addresses of the planning pages, one module per noun."""

from django.urls import URLPattern, URLResolver

from planning.urls import theatre

urlpatterns: list[URLPattern | URLResolver] = [*theatre.urlpatterns]
