"""Every number box of every page: what is typed or nothing, with unit, possible and usual range."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Final

import pytest
from django import forms

from register.domain.scores import INSTRUMENTS
from register.domain.usual import NEVER_ASKED, USUAL
from register.forms.base import RegisterModelForm
from register.forms.imaging import MeasuredForm
from register.forms.numbers import StrictDecimalField
from register.forms.reviews import ReviewForm
from register.services.imaging import HEIGHTS
from tests.pages import Page, every_page, forms_seen

# Scores that are never asked about; the others ask about a jump or a large value.
SCORES_NEVER_ASKED: Final = {
    "new_pain": "two answers, both usual",
    "bone_drug": "two answers, both usual",
}
Box = tuple[Page, forms.BaseForm, str, StrictDecimalField]


@pytest.fixture
def boxes(db) -> list[Box]:
    """Every number box: its page, its form, its name, its field."""
    every_page()
    return list(_boxes())


def _boxes() -> Iterator[Box]:
    for page, form in forms_seen():
        for name, field in form.fields.items():
            if isinstance(field, StrictDecimalField) and page.shows(form, name):
                yield page, form, name, field


def test_no_box_reads_a_number_in_another_way(db):
    """Django's own number fields read other scripts, powers and underscores; hidden ones may."""
    loose = [
        (page.name, type(form).__name__, name)
        for page, form in forms_seen()
        for name, field in form.fields.items()
        if isinstance(field, forms.IntegerField | forms.FloatField | forms.DecimalField)
        and not isinstance(field, StrictDecimalField)
        and not field.widget.is_hidden
    ]
    assert loose == []
    assert [page.name for page in every_page() if 'type="number"' in page.html] == []


def test_the_unit_stands_beside_every_number_box(boxes):
    bare = []
    for page, form, name, field in boxes:
        box = page.html.find(f'name="{form.add_prefix(name)}"')
        beside = page.html[box : page.html.index("</div>", box) + 6]
        if isinstance(form, MeasuredForm) and name in HEIGHTS:
            beside = page.html[page.html.rindex("<tr>", 0, box) : box]  # in the head of the line
        if not field.unit or field.unit not in beside:
            bare.append((page.name, type(form).__name__, name, field.unit))
    assert bare == []


def test_every_number_has_a_possible_and_a_usual_range_or_a_written_reason(boxes):
    lacking = []
    for page, form, name, field in boxes:
        model = form._meta.model.__name__ if isinstance(form, RegisterModelForm) else ""
        never = (model, name) in NEVER_ASKED or name in SCORES_NEVER_ASKED
        score = INSTRUMENTS.get(name) if isinstance(form, ReviewForm) else None
        asked = (field.soft_min, field.soft_max) != (None, None)
        asked = asked or bool(score and (score.unlikely_change or score.unlikely_from))
        if field.min_value is None or field.max_value is None or asked == never:
            lacking.append((page.name, type(form).__name__, name))
    print(f"{len(boxes)} number boxes, without both ranges {len(lacking)}")
    assert lacking == []


def test_an_unusual_value_is_possible_and_its_question_is_prepared(boxes):
    wrong = []
    for page, form, name, field in boxes:
        for bound, step in ((field.soft_min, -1), (field.soft_max, 1)):
            if bound is None:
                continue
            odd = Decimal(bound) + Decimal(step).scaleb(-(field.decimal_places or 0))
            possible = field.min_value <= odd <= field.max_value
            inside = form._is_unusual(name, Decimal(bound))
            if possible and (inside or not form._is_unusual(name, odd)):
                wrong.append((page.name, name, bound))
            if not field.min_value <= Decimal(bound) <= field.max_value:
                wrong.append((page.name, name, bound, "impossible"))
        if (field.soft_min, field.soft_max) != (None, None):
            assert f"{name}_unlikely" in form.fields, (page.name, name)
    assert wrong == []


def test_no_range_is_kept_for_a_box_that_is_gone(boxes):
    there = {
        (form._meta.model.__name__, name)
        for _, form, name, _ in boxes
        if isinstance(form, RegisterModelForm)
    } | {("ListEntry", "minutes")}
    assert set(USUAL) | set(NEVER_ASKED) <= there
    assert not set(USUAL) & set(NEVER_ASKED)
