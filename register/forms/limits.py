"""Refuse the impossible, question the unlikely, accept the rest.

A value outside the usual is asked about once, beside its box, with what was
typed still in it. Answering the question lets the value through, and the
answer is stored with it (`Record.unusual`).
"""

from decimal import Decimal
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError

from register.domain.usual import Bound


class SoftLimitMixin:
    """For forms with numbers that can be unusual.

    A field's own `soft_min` and `soft_max` say what is usual; `soft_limits` maps
    a field to another range (None leaves a side open). After cleaning,
    `cleaned_data["unlikely"]` maps each unusual field of the form to the reason
    given, and `cleaned_data["unusual"]` (and the instance of a model form) is the
    record's whole map: reasons of fields that are not on the form are kept, those
    of values that are usual again are dropped.
    """

    soft_limits: ClassVar[dict[str, tuple[Bound, Bound]]] = {}
    asks_about_unusual: ClassVar[bool] = True

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        instance = getattr(self, "instance", None)
        self._reasons_before_now: dict[str, str] = dict(getattr(instance, "unusual", None) or {})
        self._values_before: dict[str, Any] = _stored_values(instance)
        if self.asks_about_unusual:
            self._prepare_questions()

    def clean(self) -> dict[str, Any]:
        """Ask about every unusual value that has no reason yet."""
        super().clean()  # type: ignore[misc]
        cleaned: dict[str, Any] = self.cleaned_data  # type: ignore[attr-defined]
        questioned = self._questioned()
        reasons = {}
        for name in questioned:
            reason = cleaned.pop(f"{name}_unlikely", "").strip()
            value = cleaned.get(name)
            if not reason and self._was_not_asked(name, value):
                reason = self._reasons_before_now.get(name, "")
            if not self._is_unusual(name, value):
                continue
            if reason:
                reasons[name] = reason
            elif not self._was_let_through(name, value):
                self._ask(name, value)
        kept = {k: v for k, v in self._reasons_before_now.items() if k not in questioned}
        cleaned["unlikely"], cleaned["unusual"] = reasons, kept | reasons
        if isinstance(self, forms.BaseModelForm):
            self.instance.unusual = cleaned["unusual"]
        return cleaned

    def _questioned(self) -> list[str]:
        fields = self.fields  # type: ignore[attr-defined]
        return [name for name in fields if f"{name}_unlikely" in fields]

    def _usual(self, name: str) -> tuple[Bound, Bound]:
        field = self.fields[name]  # type: ignore[attr-defined]
        own = getattr(field, "soft_min", None), getattr(field, "soft_max", None)
        return self.soft_limits.get(name, own)

    def _prepare_questions(self) -> None:
        """Add the answer box of every bounded field; call again after adding fields."""
        fields = self.fields  # type: ignore[attr-defined]
        for name in list(fields):
            if self._usual(name) != (None, None) and f"{name}_unlikely" not in fields:
                self._prepare_question(name)

    def _prepare_question(self, name: str) -> None:
        fields = self.fields  # type: ignore[attr-defined]
        label = f"{fields[name].label or name}: why is this value right?"
        answer = forms.CharField(
            label=label,
            required=False,
            max_length=200,
            initial=self._reasons_before_now.get(name, ""),
        )
        answer.is_companion = True  # type: ignore[attr-defined]
        fields[f"{name}_unlikely"] = answer

    def _is_unusual(self, name: str, value: Any) -> bool:
        low, high = self._usual(name)
        if not isinstance(value, int | Decimal):
            return False
        return (low is not None and value < low) or (high is not None and value > high)

    def _was_not_asked(self, name: str, value: Any) -> bool:
        """Whether a page without the answer's box came back, with the value as it stood."""
        box = self.add_prefix(f"{name}_unlikely")  # type: ignore[attr-defined]
        return self._values_before.get(name) == value and box not in self.data  # type: ignore[attr-defined]

    def _was_let_through(self, name: str, value: Any) -> bool:
        """Whether the value stands there already without a reason, as after an import."""
        return self._values_before.get(name) == value and name not in self._reasons_before_now

    def _ask(self, name: str, value: Any) -> None:
        field = self.fields[name]  # type: ignore[attr-defined]
        unit = f" {field.unit}" if getattr(field, "unit", "") else ""
        words = (
            f"{field.label}: {value}{unit} is unusual; {_range(*self._usual(name), unit)} "
            "(common practice; confirm locally). Change it, or say beside it why it is right."
        )
        self.add_error(name, ValidationError(words, code="unlikely"))  # type: ignore[attr-defined]


def _stored_values(instance: Any) -> dict[str, Any]:
    """Return the columns of a row that exists, before the form lays its own values over them."""
    if instance is None or instance.pk is None:
        return {}
    return {
        column.name: getattr(instance, column.attname) for column in instance._meta.concrete_fields
    }


def _range(low: Bound, high: Bound, unit: str) -> str:
    if low is None:
        return f"most are {high}{unit} or less"
    if high is None:
        return f"most are {low}{unit} or more"
    return f"most lie between {low} and {high}{unit}"
