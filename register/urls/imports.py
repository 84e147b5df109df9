"""Addresses of files that are sent in."""

from django.urls import path

from register.views import import_reading, import_undo, imports

_ONE = "imports/<int:import_id>/"

urlpatterns = [
    path("imports/", imports.referral_imports, name="referral-imports"),
    path(
        "imports/empty/<slug:kind>.<slug:form>",
        imports.referral_import_empty,
        name="referral-import-empty",
    ),
    path(_ONE, imports.referral_import, name="referral-import"),
    path(f"{_ONE}reading/", import_reading.referral_import_reading, name="referral-import-reading"),
    path(f"{_ONE}letters/", import_reading.referral_import_letters, name="referral-import-letters"),
    path(f"{_ONE}progress/", imports.referral_import_progress, name="referral-import-progress"),
    path(f"{_ONE}aside/", imports.referral_import_aside, name="referral-import-aside"),
    path(f"{_ONE}undo/", import_undo.undo_page, name="import-undo"),
    path(f"{_ONE}refused/", imports.referral_import_refused, name="referral-import-refused"),
]
