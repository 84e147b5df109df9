"""All CHECK constraints of a row asked of the database at once.

Django asks for each one singly. A referral has over a hundred, and each save asked
twice (for the form and for the record), which took most of the time of a save.
"""

from collections.abc import Sequence
from contextlib import nullcontext

from django.core.exceptions import FieldError, ValidationError
from django.db import DatabaseError, connections, transaction
from django.db.models import BooleanField, CheckConstraint, Model, Value
from django.db.models.functions import Coalesce
from django.db.models.sql import Query
from django.db.models.sql.constants import SINGLE


def broken_checks(
    row: Model,
    checks: Sequence[CheckConstraint],
    *,
    exclude: set[str] | None = None,
    using: str = "default",
) -> list[ValidationError]:
    """Return what each broken constraint says, in the order of `checks`.

    A constraint that needs an excluded field is left out, and one whose answer is NULL
    holds, as in the database. When the database cannot answer for all together, each
    is asked alone.
    """
    query, asked = _question(row, checks, exclude)
    if not asked:
        return []
    try:
        answers = _answers(query, using)
    except DatabaseError:
        return _one_by_one(row, asked, exclude, using)
    return [_broken(check) for check, holds in zip(asked, answers, strict=True) if not holds]


def _question(
    row: Model, checks: Sequence[CheckConstraint], exclude: set[str] | None
) -> tuple[Query, list[CheckConstraint]]:
    """Return a query with one column for each constraint, and the constraints asked."""
    query = Query(None)
    against = row._get_field_expression_map(meta=row._meta, exclude=exclude)  # type: ignore[attr-defined]
    for name, value in against.items():
        typed = value if hasattr(value, "resolve_expression") else Value(value)
        query.add_annotation(typed, name, select=False)
    asked: list[CheckConstraint] = []
    for check in checks:
        holds = Coalesce(check.condition, True, output_field=BooleanField())
        try:
            query.add_annotation(holds, f"_check_{len(asked)}")
        except FieldError:
            continue
        asked.append(check)
    return query, asked


def _answers(query: Query, using: str) -> Sequence[bool]:
    """Ask within a savepoint, so that a question that fails leaves the transaction whole."""
    inside = connections[using].in_atomic_block
    with transaction.atomic(using=using) if inside else nullcontext():
        found = query.get_compiler(using=using).execute_sql(SINGLE)
    return found or ()


def _one_by_one(
    row: Model, checks: Sequence[CheckConstraint], exclude: set[str] | None, using: str
) -> list[ValidationError]:
    broken = []
    for check in checks:
        try:
            check.validate(type(row), row, exclude=exclude, using=using)
        except ValidationError as error:
            broken.append(error)
    return broken


def _broken(check: CheckConstraint) -> ValidationError:
    return ValidationError(check.get_violation_error_message(), code=check.violation_error_code)
