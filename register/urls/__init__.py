"""Addresses of the facts, one module per noun."""

from django.urls import URLPattern, URLResolver

from register.urls import (
    catalogue,
    drafts,
    help,
    imaging,
    imports,
    outcomes,
    patients,
    referrals,
    sign_in,
    tasks,
    transfers,
)

urlpatterns: list[URLPattern | URLResolver] = [
    *sign_in.urlpatterns,
    *drafts.urlpatterns,
    *patients.urlpatterns,
    *referrals.urlpatterns,
    *imaging.urlpatterns,
    *imports.urlpatterns,
    *outcomes.urlpatterns,
    *tasks.urlpatterns,
    *transfers.urlpatterns,
    *catalogue.urlpatterns,
    *help.urlpatterns,
]
