"""Why there is no value: four reasons by keyboard, wherever a box may stay empty."""

from collections.abc import Iterator
from typing import Final

import pytest
from django import forms

from register.domain.scores import INSTRUMENTS
from register.domain.vocabulary import ABSENT, codes
from register.forms.base import RegisterModelForm
from register.forms.reviews import ReviewForm
from tests.pages import Page, every_page, forms_seen

WITHOUT: Final = {
    "MeasuredForm": "heights of a neighbour only compare; its own page asks why one is missing",
}
Question = tuple[Page, forms.BaseForm, str]


@pytest.fixture
def questions(db) -> list[Question]:
    """Every box that may be empty on purpose: its page, its form, its name."""
    every_page()
    return list(_questions())


def _questions() -> Iterator[Question]:
    for page, form in forms_seen():
        if isinstance(form, ReviewForm):
            yield from ((page, form, code) for code in INSTRUMENTS if code in form.fields)
        elif isinstance(form, RegisterModelForm) and type(form).__name__ not in WITHOUT:
            names = getattr(form._meta.model, "MAY_BE_ABSENT", ())
            yield from ((page, form, name) for name in names if name in form.fields)


def test_each_of_four_reasons_is_reached_by_keyboard_beside_every_such_box(questions):
    lacking = []
    for page, form, name in questions:
        field, beside = form.fields[name], form.fields.get(f"{name}_absent")
        if beside is not None:
            offered = [value for value, _ in beside.choices]
            there = page.shows(form, f"{name}_absent") and set(codes(ABSENT)) <= set(offered)
        else:
            groups = [
                words for _, words in getattr(field, "choices", []) if isinstance(words, list)
            ]
            offered = [value for group in groups for value, _ in group]
            wanted = {f"absent:{code}" for code in codes(ABSENT)}
            there = page.shows(form, name) and wanted <= set(offered)
        if not there:
            lacking.append((page.name, type(form).__name__, name))
    print(f"{len(questions)} boxes that may be empty on purpose, without reasons {len(lacking)}")
    assert lacking == []


def test_nothing_is_chosen_before_somebody_answers(questions):
    """An empty box of a new record is not recorded, not "no" and not a reason."""
    answered = []
    for page, form, name in questions:
        instance = getattr(form, "instance", None)
        is_new = page.name.endswith("-new") and instance is not None and instance.pk is None
        value = form[name].value()
        blank = value in (None, "", [], False) or name in ("posture",)  # taken from the study
        if is_new and not blank and getattr(instance, name) in (None, "", []):
            answered.append((page.name, type(form).__name__, name, value))
    assert answered == []
