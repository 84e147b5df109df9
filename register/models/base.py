"""What every record has: a version, a way to be voided, and reasons for being empty.

Helpers build named constraints whose message is written for people, so that
the database refuses what a form refuses and says the same words.
"""

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any, ClassVar, Self

from django.contrib.postgres.fields import ArrayField
from django.core.exceptions import ValidationError
from django.db import models, router
from django.db.models import BaseConstraint, BooleanField, CheckConstraint, F, Func, Q

from register.domain.vocabulary import ABSENT, Words, codes
from register.models.checks import broken_checks

Number = int | Decimal


class RecordQuerySet(models.QuerySet):
    """Adds the one filter that every reader needs."""

    def live(self) -> Self:
        """Leave out rows that were voided; they stay readable in the history."""
        return self.filter(voided_at=None)


class Record(models.Model):
    """Base of all clinical rows.

    `version` is compared in each UPDATE, so that two people cannot overwrite
    each other unseen. Nothing is deleted: a mistake is voided, with a reason.
    `absent` maps a field name to the reason why it is empty on purpose; an
    empty field outside the map is simply not recorded. `unusual` maps a field name
    to the reason that was given why its unlikely value is right.
    `IS_DERIVED` marks records that the register makes from others and can make again.
    `IS_BESIDE` marks those of another list that is compared with the register: what they
    point at is neither held by them nor held back.
    """

    created_at = models.DateTimeField(auto_now_add=True)
    version = models.PositiveIntegerField(default=1)
    absent = models.JSONField(default=dict, blank=True)
    unusual = models.JSONField(default=dict, blank=True)
    voided_at = models.DateTimeField(null=True, blank=True)
    void_reason = models.CharField(max_length=300, blank=True, default="")

    MAY_BE_ABSENT: ClassVar[tuple[str, ...]] = ()
    IS_DERIVED: ClassVar[bool] = False
    IS_BESIDE: ClassVar[bool] = False
    objects = RecordQuerySet.as_manager()

    class Meta:
        abstract = True

    def validate_constraints(self, exclude: Any = None) -> None:
        """Check the row against its constraints; all CHECKs are one question."""
        using = router.db_for_write(type(self), instance=self)
        checks = [c for c in self._meta.constraints if isinstance(c, CheckConstraint)]
        errors: dict[str, Any] = {}
        for error in broken_checks(self, checks, exclude=exclude, using=using):
            errors = error.update_error_dict(errors)
        try:
            super().validate_constraints(exclude=exclude)
        except ValidationError as error:
            errors = error.update_error_dict(errors)
        if errors:
            raise ValidationError(errors)

    def get_constraints(self) -> list[tuple[type[models.Model], Sequence[BaseConstraint]]]:
        """Return what Django is to ask singly: everything but the CHECKs."""
        others = [c for c in self._meta.constraints if not isinstance(c, CheckConstraint)]
        return [(type(self), others)]


class CodeField(models.CharField):
    """A code of a closed vocabulary.

    Migrations see a plain text column: the words belong to the pages, and the
    codes are held by a named constraint, so rewording makes no migration.
    """

    def deconstruct(self) -> Any:
        name, _, args, options = super().deconstruct()
        options.pop("choices", None)
        options.pop("help_text", None)
        return name, "django.db.models.CharField", args, options


def choice(vocabulary: Words, **options: Any) -> Any:
    """A closed vocabulary as a text column; '' is "not recorded" unless `blank=False`."""
    options.setdefault("blank", True)
    if options["blank"]:
        options.setdefault("default", "")
    return CodeField(max_length=24, choices=list(vocabulary), **options)


def several(vocabulary: Words) -> ArrayField:
    """Any number of codes. An empty list is "not recorded"; "none" is a code of its own."""
    return ArrayField(CodeField(max_length=24, choices=list(vocabulary)), default=list, blank=True)


def number(digits: int, places: int, **options: Any) -> Any:
    """A measured number, exact, NULL when not recorded."""
    options.setdefault("null", True)
    options.setdefault("blank", True)
    return models.DecimalField(max_digits=digits, decimal_places=places, **options)


def text(length: int = 200, **options: Any) -> Any:
    """A short text; '' when not recorded."""
    options.setdefault("blank", True)
    options.setdefault("default", "")
    return models.CharField(max_length=length, **options)


def link(to: Any, **options: Any) -> Any:
    """A foreign key that never deletes what points at it."""
    options.setdefault("on_delete", models.PROTECT)
    return models.ForeignKey(to, **options)


def within(model: str, field: str, low: Number, high: Number, words: str) -> CheckConstraint:
    """Refuse a number outside the possible; `words` name the quantity and unit.

    Django puts the constraint's name into its message by %, so a percent sign is doubled.
    """
    return CheckConstraint(
        condition=Q(**{field: None}) | Q(**{f"{field}__gte": low, f"{field}__lte": high}),
        name=f"{model}_{field}_possible",
        violation_error_message=f"{words} must be from {low} to {high}.".replace("%", "%%"),
    )


def known(model: str, field: str, vocabulary: Words, *, blank: bool = True) -> CheckConstraint:
    """Refuse a code that is not in the vocabulary."""
    allowed = ([""] if blank else []) + codes(vocabulary)
    return CheckConstraint(
        condition=Q(**{f"{field}__in": allowed}),
        name=f"{model}_{field}_known",
        violation_error_message=f"Choose one of the listed answers for {field.replace('_', ' ')}.",
    )


def each_known(model: str, field: str, vocabulary: Words) -> CheckConstraint:
    """Refuse unknown codes in a list, and "none" beside another answer."""
    alone = Q(**{f"{field}__contains": ["none"]}) & ~Q(**{f"{field}__len": 1})
    return CheckConstraint(
        condition=Q(**{f"{field}__contained_by": codes(vocabulary)}) & ~alone,
        name=f"{model}_{field}_known",
        violation_error_message='"None of these" cannot stand beside another answer.',
    )


def in_order(model: str, first: str, then: str, words: str) -> CheckConstraint:
    """Refuse two dates in the wrong order; either may be missing."""
    return CheckConstraint(
        condition=Q(**{first: None}) | Q(**{then: None}) | Q(**{f"{then}__gte": F(first)}),
        name=f"{model}_{then}_not_before_{first}",
        violation_error_message=words,
    )


def by_a_person(model: str, what: str, words: str) -> CheckConstraint:
    """Refuse a confirmation without its person or its time: `what`_confirmed_by and _at."""
    person, time = f"{what}_confirmed_by", f"{what}_confirmed_at"
    return CheckConstraint(
        condition=Q(**{person: None, time: None}) | (~Q(**{person: None}) & ~Q(**{time: None})),
        name=f"{model}_{what}_confirmed_by_a_person",
        violation_error_message=words,
    )


def voiding(model: str) -> CheckConstraint:
    """A voided row says why; a live row has no reason to be void."""
    return CheckConstraint(
        condition=Q(voided_at=None, void_reason="") | (~Q(voided_at=None) & ~Q(void_reason="")),
        name=f"{model}_void_with_reason",
        violation_error_message="Say why this entry is voided.",
    )


def absence(
    model: str, *, values: Iterable[str] = (), texts: Iterable[str] = (), lists: Iterable[str] = ()
) -> list[CheckConstraint]:
    """Constraints of the `absent` map: known fields, known reasons, never filled and absent.

    `values` are empty as NULL, `texts` as '', `lists` as an empty array.
    """
    values, texts, lists = tuple(values), tuple(texts), tuple(lists)
    both = Q()
    for names, empty in ((values, None), (texts, ""), (lists, [])):
        for name in names:
            both &= ~Q(absent__has_key=name) | Q(**{name: empty})
    fields = ", ".join(f"'{name}'" for name in (*values, *texts, *lists))
    reasons = " || ".join(f'@ == "{code}"' for code in codes(ABSENT))
    return [
        CheckConstraint(
            condition=both,
            name=f"{model}_filled_or_absent",
            violation_error_message="Give the value, or the reason why there is none, not both.",
        ),
        CheckConstraint(
            condition=Func(
                F("absent"),
                template=f"(%(expressions)s - ARRAY[{fields}]::text[]) = '{{}}'::jsonb",
                output_field=BooleanField(),
            ),
            name=f"{model}_absent_fields_known",
            violation_error_message="A reason was given for a field that cannot be absent.",
        ),
        CheckConstraint(
            condition=Func(
                F("absent"),
                template=f"NOT jsonb_path_exists(%(expressions)s, '$.* ? (!({reasons}))')",
                output_field=BooleanField(),
            ),
            name=f"{model}_absent_reasons_known",
            violation_error_message=(
                "The reason is one of not known, not done, not applicable, declined."
            ),
        ),
    ]
