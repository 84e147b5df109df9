"""Addresses of referral files."""

from django.urls import path

from register.views import imports

urlpatterns = [
    path("imports/", imports.referral_imports, name="referral-imports"),
    path("imports/empty.csv", imports.referral_import_empty, name="referral-import-empty"),
    path("imports/<int:import_id>/", imports.referral_import, name="referral-import"),
    path(
        "imports/<int:import_id>/aside/",
        imports.referral_import_aside,
        name="referral-import-aside",
    ),
    path(
        "imports/<int:import_id>/refused.csv",
        imports.referral_import_refused,
        name="referral-import-refused",
    ),
]
