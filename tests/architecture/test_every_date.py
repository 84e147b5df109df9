"""Every date of every page: read as typed or refused, and in the order of a life."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Final

import pytest
from django import forms
from django.core.exceptions import ValidationError

from register.forms.dates import ThreeBoxDateField
from tests.pages import Page, every_page, forms_seen

BORN, TODAY, PROCEDURE = "the date of birth", "today", "the day of the procedure"
# Form and date: what it must not be before, what not after; None where any day is possible.
ORDER: Final = {
    ("PatientForm", "date_of_birth"): (None, TODAY),
    ("PatientForm", "date_of_death"): (None, TODAY),
    ("PatientForm", "alive_checked_on"): (None, TODAY),
    ("ReferralForm", "referred_on"): (BORN, TODAY),
    ("ReferralForm", "received_on"): (BORN, TODAY),
    ("ReferralForm", "onset_on"): (BORN, TODAY),
    ("ReferralForm", "neurology_since"): (BORN, TODAY),
    ("ReferralForm", "bone_drug_started_on"): (BORN, TODAY),
    ("DrugForm", "last_taken_on"): (BORN, TODAY),
    ("FractureForm", "onset_on"): (BORN, TODAY),
    ("BloodTestForm", "taken_on"): (BORN, TODAY),
    ("LaboratoryResultForm", "taken_on"): (BORN, TODAY),
    ("BoneDensityForm", "measured_on"): (BORN, TODAY),
    ("StudyForm", "performed_on"): (BORN, TODAY),
    ("ReadingForm", "read_on"): ("the day of the images", TODAY),
    ("TaskForm", "due_on"): (TODAY, None),
    ("DecisionForm", "decided_on"): ("the day on which the fracture began", TODAY),
    ("DecisionForm", "team_meeting_on"): ("the day on which the fracture began", TODAY),
    ("SessionForm", "held_on"): (None, "two years ahead"),
    ("ProcedureForm", "discharged_on"): (PROCEDURE, TODAY),
    ("ProcedureForm", "readmitted_on"): (PROCEDURE, TODAY),
    ("CementForm", "expires_on"): (f"{PROCEDURE}; take another pack", None),
    ("ComplicationForm", "occurred_on"): (PROCEDURE, TODAY),
    ("ReviewForm", "held_on"): ("the procedure", TODAY),
    ("ReviewForm", "told_on"): (None, TODAY),
    ("AttemptForm", "made_on"): ("the day from which the contact counts", TODAY),
    ("AttemptForm", "next_try_on"): (TODAY, None),
    ("EndForm", "ended_on"): (BORN, TODAY),
    ("TechniqueForm", "approved_on"): (None, TODAY),
    ("TechniqueForm", "review_on"): (None, None),
    ("TechniqueForm", "withdrawn_on"): (None, TODAY),
    ("StockForm", "expires_on"): (None, None),
    ("StockForm", "recalled_on"): (None, TODAY),
}
# Why a side is open.
OPEN: Final = {
    ("PatientForm", "date_of_birth"): "nobody is born before 1880, which every date refuses",
    ("PatientForm", "date_of_death"): "compared with the date of birth typed beside it",
    ("PatientForm", "alive_checked_on"): "compared with birth and death typed beside it",
    ("TaskForm", "due_on"): "some results take long",
    ("SessionForm", "held_on"): "a past session may be entered late",
    ("CementForm", "expires_on"): "cement keeps for years",
    ("ReviewForm", "told_on"): "compared with the day of the contact typed beside it",
    ("AttemptForm", "next_try_on"): "whoever answers says when",
    ("TechniqueForm", "approved_on"): "a committee of any year",
    ("TechniqueForm", "review_on"): "compared with the approval typed beside it",
    ("TechniqueForm", "withdrawn_on"): "of any year",
    ("StockForm", "expires_on"): "a lot that expired is recorded too; using it is refused",
    ("StockForm", "recalled_on"): "of any year",
}
Box = tuple[Page, forms.BaseForm, str, ThreeBoxDateField]


@pytest.fixture
def boxes(db) -> list[Box]:
    """Every date: its page, its form, its name, its field."""
    every_page()
    return list(_boxes())


def _boxes() -> Iterator[Box]:
    for page, form in forms_seen():
        for name, field in form.fields.items():
            if isinstance(field, ThreeBoxDateField) and page.shows(form, name):
                yield page, form, name, field


def test_every_date_has_its_limits_in_the_table_and_keeps_them(boxes):
    seen = {}
    for page, form, name, field in boxes:
        if page.name in ("patient-as-of", "patient-history", "theatre-log"):
            continue  # days to look back to; nothing is stored
        seen.setdefault((type(form).__name__, name), field)
    assert set(seen) == set(ORDER)
    told = [(key, field) for key, field in seen.items() if not _as_written(field, ORDER[key])]
    assert told == []
    assert {key for key, sides in ORDER.items() if None in sides} == set(OPEN)


def _as_written(field: ThreeBoxDateField, sides: tuple[str | None, str | None]) -> bool:
    """Whether the limits bear these words, hold to the day, and are told in the message."""
    given = ((field.earliest, field.earliest_words, -1), (field.latest, field.latest_words, 1))
    for (limit, words, step), wanted in zip(given, sides, strict=True):
        if wanted is None:
            if limit is not None:
                return False
            continue
        day = limit() if callable(limit) else limit
        if day is None or not words.startswith(wanted):
            return False
        if not _refused(field, day + timedelta(days=step), words) or _refused(field, day, words):
            return False
    return True


def _refused(field: ThreeBoxDateField, day: date, words: str) -> bool:
    try:
        field.clean([str(day.day), str(day.month), str(day.year), False])
    except ValidationError as refusal:
        return f"({words})" in refusal.message
    return False


def test_no_date_jumps_by_itself_or_is_typed_into_one_box(db):
    for page in every_page():
        assert 'type="date"' not in page.html, page.name
        assert "maxlength" not in "".join(
            line for line in page.html.split("<input") if '_day"' in line[:200]
        ), page.name
