"""The base of all forms: strict fields made from the models, reasons and questions included."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any, ClassVar, Final

from django import forms
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.utils.text import capfirst

from register.domain.usual import POSSIBLE, USUAL
from register.forms.absent import AbsentReasonMixin
from register.forms.choices import SeveralField, WordsField, YesNoField
from register.forms.clock import ClockField
from register.forms.dates import KnownDate, ThreeBoxDateField
from register.forms.limits import SoftLimitMixin
from register.forms.numbers import StrictDecimalField, StrictIntegerField

# A field's unit is the end of its name.
UNITS: Final = {
    "mm": "mm", "ml": "mL", "deg": "degrees", "kg": "kg", "cm": "cm", "days": "days",
    "minutes": "minutes", "percent": "%", "mg": "mg", "hu": "HU", "s": "s", "c": "°C",
    "cm2": "Gy·cm²", "cases": "cases",
}  # fmt: skip
# Units of columns whose name does not end in one.
OTHER_UNITS: Final = {
    "pain_rest": "of 10", "pain_moving": "of 10", "frailty_index_5": "of 5",
    "rib_bearing_bodies": "bodies", "t_score": "SD", "shift_ratio": "ratio",
    "diffusion": "10⁻³ mm²/s", "implant_count": "implants", "image_intensifiers": "devices",
    "beds": "beds", "quantity": "pieces", "reorder_at": "pieces",
    "minutes_per_further_level": "minutes",
}  # fmt: skip


def strict_field(column: models.Field, **options: Any) -> forms.Field | None:
    """Return the form field of a model column; for `formfield_callback` in a form's Meta."""
    unit = OTHER_UNITS.get(column.name) or UNITS.get(column.name.rsplit("_", 1)[-1], "")
    given: dict[str, Any] = {
        "required": not column.blank and not column.has_default(),
        "label": _label(column),
        "help_text": column.help_text,
        **{key: options[key] for key in ("label", "help_text", "widget") if key in options},
    }
    return _by_kind(column, given, unit) or column.formfield(**options | {"label": given["label"]})


def _by_kind(column: models.Field, given: dict[str, Any], unit: str) -> forms.Field | None:
    match column:
        case models.BooleanField() if column.null:
            return YesNoField(**given)
        case models.DecimalField():
            return StrictDecimalField(
                **given, **_limits(column), unit=unit, decimal_places=column.decimal_places
            )
        case models.IntegerField():
            return StrictIntegerField(**given, **({"min_value": 0} | _limits(column)), unit=unit)
        case models.TimeField():
            return ClockField(**given)
        case models.DateField() if not isinstance(column, models.DateTimeField):
            return ThreeBoxDateField(**given)
        case ArrayField() if column.base_field.choices:
            return SeveralField(**given, vocabulary=column.base_field.choices)
        case models.CharField() if column.choices:
            return WordsField(**given, vocabulary=column.choices)
    return None


def _limits(column: models.Field) -> dict[str, Any]:
    """Return what the table refuses and what is asked about (register.domain.usual)."""
    place = column.model.__name__, column.name
    least, most = USUAL.get(place, (None, None))
    return possible_range(column.model, column.name) | {"soft_min": least, "soft_max": most}


def possible_range(model: type[models.Model], name: str) -> dict[str, Any]:
    """Return min_value and max_value of a column, read off its "possible" constraint."""
    found: dict[str, Any] = {}
    for constraint in model._meta.constraints:
        if constraint.name.endswith(f"_{name}_possible"):
            for lookup, bound in _leaves(constraint.condition):  # type: ignore[attr-defined]
                if lookup == f"{name}__gte":
                    found["min_value"] = bound
                elif lookup == f"{name}__lte":
                    found["max_value"] = bound
    if not found and (model.__name__, name) in POSSIBLE:
        found["min_value"], found["max_value"] = POSSIBLE[model.__name__, name]
    return found


def _leaves(condition: models.Q) -> Iterator[tuple[str, Decimal | int]]:
    for child in condition.children:
        if isinstance(child, models.Q):
            yield from _leaves(child)
        elif isinstance(child, tuple):
            yield child


def _label(column: models.Field) -> str:
    words = str(column.verbose_name)
    if column.name.rsplit("_", 1)[-1] in UNITS:
        words = words.rsplit(" ", 1)[0]
    return capfirst(words.removesuffix(" on"))


class RegisterForm(SoftLimitMixin, AbsentReasonMixin, forms.Form):
    """A form that is not made from a model."""

    use_required_attribute = False

    def __init__(self, *args: Any, **options: Any) -> None:
        options.setdefault("label_suffix", "")
        super().__init__(*args, **options)


class RegisterModelForm(SoftLimitMixin, AbsentReasonMixin, forms.ModelForm):
    """A form made from a model. Its Meta inherits `StrictMeta`.

    `uncertain_dates` maps a date column to the column that says how exactly it
    is known; the pair is asked as one question.
    """

    use_required_attribute = False
    uncertain_dates: ClassVar[dict[str, str]] = {}

    def __init__(self, *args: Any, **options: Any) -> None:
        options.setdefault("label_suffix", "")
        super().__init__(*args, **options)
        for name, precision in self.uncertain_dates.items():
            self._join(name, precision)

    def clean(self) -> dict[str, Any]:
        """Split each uncertain date into its day and its precision."""
        cleaned = super().clean()
        for name, precision in self.uncertain_dates.items():
            known = cleaned.get(name)
            if isinstance(known, KnownDate):
                cleaned[name], cleaned[precision] = known.on, known.precision
            elif name in cleaned:
                cleaned[precision] = ""
            setattr(self.instance, precision, cleaned.get(precision, ""))
        return cleaned

    def _join(self, name: str, precision: str) -> None:
        plain = self.fields[name]
        self.fields[name] = ThreeBoxDateField(
            label=plain.label, required=plain.required, may_be_uncertain=True
        )
        self.fields.pop(precision, None)
        stored = self.initial.get(name)
        if stored and not isinstance(stored, KnownDate):
            known = getattr(self.instance, precision, "") or "day"
            self.initial[name] = KnownDate(stored, known)


class StrictMeta:
    """To be inherited by the Meta of every RegisterModelForm."""

    formfield_callback = strict_field
