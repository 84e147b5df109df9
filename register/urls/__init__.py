"""Addresses of the facts, one module per noun."""

from django.urls import URLPattern, URLResolver

from register.urls import sign_in

urlpatterns: list[URLPattern | URLResolver] = [*sign_in.urlpatterns]
