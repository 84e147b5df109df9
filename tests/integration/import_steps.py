"""What a nurse does with a referral file, step by step: send, look, confirm."""

from django.apps import apps

from register.history import acting
from register.models import FileImport, Patient
from register.selectors.imports import preview_of
from register.services import imports as writing
from tests.factories import make_patient
from tests.referral_files import TODAY, TRUTH, written


def keep(nurse, content: bytes, order: str = "dmy", **more: str) -> FileImport:
    return writing.import_keep(
        site=nurse.site,
        user=nurse,
        file_name="referrals.csv",
        content=content,
        date_order=order,
        today=TODAY,
        **more,
    )


def look(kept: FileImport):
    return preview_of(kept, today=TODAY)


def confirm(nurse, kept: FileImport, seen: str | None = None) -> FileImport:
    seen = look(kept).seal if seen is None else seen
    return writing.import_confirm(kept=kept, user=nurse, seen=seen, today=TODAY)


def rows_of_all_tables() -> dict[str, int]:
    return {model._meta.label: model._base_manager.count() for model in apps.get_models()}


def known_patient(nurse, **fields) -> Patient:
    """The patient of the true row, already in the register."""
    names = ("hospital_number", "nhs_number", "family_name", "given_name", "date_of_birth")
    with acting("test"):
        return make_patient(
            nurse.site, **{name: TRUTH[name] for name in names} | {"sex": ""} | fields
        )


def only_verdict(nurse, *rows, **options):
    return look(keep(nurse, written(rows, **options))).verdicts[0]
