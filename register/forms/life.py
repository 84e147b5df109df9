"""The days of a person's life as limits of the dates on a form."""

from typing import Any

from django import forms
from django.utils.timezone import localdate

from register.forms.dates import ThreeBoxDateField
from register.models import Patient


def within_life(form: forms.BaseForm, patient: Patient, *, but_not: tuple[str, ...] = ()) -> None:
    """Let every date of a form lie between birth and today, or death, of its patient.

    A narrower limit that a field has of its own stays. `but_not` are dates that
    may come after death, such as the day on which images were read.
    """
    for name, field in form.fields.items():
        if not isinstance(field, ThreeBoxDateField) or name in but_not:
            continue
        if field.earliest is None:
            field.bound(earliest=patient.date_of_birth, earliest_words="the date of birth")
        if field.latest is None or field.latest is localdate:
            field.bound(**_end(patient))


def _end(patient: Patient) -> dict[str, Any]:
    if patient.date_of_death is not None:
        return {"latest": patient.date_of_death, "latest_words": "the day of death"}
    return {"latest": localdate, "latest_words": "today"}
