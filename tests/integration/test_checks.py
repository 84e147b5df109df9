"""All CHECKs of a row in one question: the same answers as one question for each."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import connection
from django.db.models import CheckConstraint, Model
from django.test.utils import CaptureQueriesContext

from register.models import Measurement, Patient, Reading, Referral
from register.models.base import Record
from register.models.checks import broken_checks

RECORDS = [model for model in apps.get_models() if issubclass(model, Record)]
pytestmark = pytest.mark.django_db

# For each kind of column values that some constraint refuses, and one that none does.
ODD: dict[str, list[Any]] = {
    "CharField": ["", "no such code", "9" * 10],
    "CodeField": ["", "no such code"],
    "TextField": ["", "words"],
    "DecimalField": [None, Decimal("-3"), Decimal(999), Decimal(20)],
    "PositiveSmallIntegerField": [None, 0, 30_000],
    "PositiveIntegerField": [None, 0, 30_000],
    "IntegerField": [None, -9, 30_000],
    "SmallIntegerField": [None, -9, 30_000],
    "BooleanField": [None, True],
    "DateField": [None, date(1800, 1, 1), date(2199, 1, 1)],
    "JSONField": [{}, {"no_such_field": "not_known"}],
    "ArrayField": [[], ["none", "no such code"]],
}


def rows(model: type[Model]) -> list[Model]:
    """Some rows whose columns take odd values in turn."""
    made = []
    for turn in range(4):
        row = model()
        for field in model._meta.concrete_fields:
            values = ODD.get(type(field).__name__, [])
            if values and not field.primary_key:
                setattr(row, field.attname, values[turn % len(values)])
        made.append(row)
    return made


def checks_of(model: type[Model]) -> list[CheckConstraint]:
    return [one for one in model._meta.constraints if isinstance(one, CheckConstraint)]


def one_by_one(row: Model, exclude: set[str] | None = None) -> list[str]:
    told = []
    for check in checks_of(type(row)):
        try:
            check.validate(type(row), row, exclude=exclude)
        except ValidationError as error:
            told += error.messages
    return told


@pytest.mark.parametrize("model", RECORDS, ids=lambda model: model.__name__)
def test_one_question_has_the_answers_of_many(model):
    for row in rows(model):
        together = broken_checks(row, checks_of(model))
        assert [words for error in together for words in error.messages] == one_by_one(row)


def test_the_odd_rows_break_constraints():
    told = {
        error.messages[0]
        for model in (Referral, Reading, Measurement, Patient)
        for row in rows(model)
        for error in broken_checks(row, checks_of(model))
    }
    assert len(told) > 40


def test_what_needs_an_excluded_field_is_not_asked():
    row = Reading(level="X9", canal_percent=200)
    every = {"level": "Choose a level", "canal_percent": "The share of the canal"}
    for left_out, words in every.items():
        told = [error.messages[0] for error in broken_checks(row, checks_of(Reading))]
        assert any(one.startswith(words) for one in told)
        without = broken_checks(row, checks_of(Reading), exclude={left_out})
        assert not any(error.messages[0].startswith(words) for error in without)


def test_a_row_is_checked_with_one_question():
    row = Referral()
    with CaptureQueriesContext(
        connection,
    ) as asked:
        row_errors = broken_checks(row, checks_of(Referral))
    questions = [q for q in asked.captured_queries if q["sql"].startswith("SELECT")]
    assert len(questions) == 1
    assert len(checks_of(Referral)) > 20
    assert isinstance(row_errors, list)


def test_where_the_database_cannot_answer_each_is_asked_alone():
    """A NUL can be no parameter: the answers that can be given are still given."""
    row = Reading(level="T12", note="\0", canal_percent=200, quantitative_note="\0", oedema="\0")
    told = [error.messages[0] for error in broken_checks(row, checks_of(Reading))]
    assert any(one.startswith("The share of the canal") for one in told)


def test_the_record_asks_so():
    with pytest.raises(ValidationError) as refused:
        Reading(level="X9", canal_percent=200).validate_constraints()
    assert any("The share of the canal" in words for words in refused.value.messages)
