"""Refuse the impossible, question the unlikely, accept the rest.

A value outside the usual is asked about once, beside its box, with what was
typed still in it. Answering the question lets the value through, and the
answer is stored with it.
"""

from decimal import Decimal
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError

Bound = Decimal | int | None


class SoftLimitMixin:
    """For forms with numbers that can be unusual.

    `soft_limits` maps a field to its usual range (None leaves a side open), over
    and above fields that carry `soft_min` or `soft_max` themselves. After
    cleaning, `cleaned_data["unlikely"]` maps each unusual field to the reason given.
    """

    soft_limits: ClassVar[dict[str, tuple[Bound, Bound]]] = {}

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self._prepare_questions()

    def clean(self) -> dict[str, Any]:
        """Ask about every unusual value that has no reason yet."""
        super().clean()  # type: ignore[misc]
        cleaned: dict[str, Any] = self.cleaned_data  # type: ignore[attr-defined]
        reasons = {}
        for name in self._questioned():
            reason = cleaned.pop(f"{name}_unlikely", "").strip()
            if not self._is_unusual(name, cleaned.get(name)):
                continue
            if reason:
                reasons[name] = reason
            else:
                self._ask(name, cleaned[name])
        cleaned["unlikely"] = reasons
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
        label = f"Why is this {str(fields[name].label or name).lower()} right?"
        answer = forms.CharField(label=label, required=False, max_length=200)
        answer.is_companion = True  # type: ignore[attr-defined]
        fields[f"{name}_unlikely"] = answer

    def _is_unusual(self, name: str, value: Any) -> bool:
        low, high = self._usual(name)
        if not isinstance(value, int | Decimal):
            return False
        return (low is not None and value < low) or (high is not None and value > high)

    def _ask(self, name: str, value: Any) -> None:
        field = self.fields[name]  # type: ignore[attr-defined]
        unit = f" {field.unit}" if getattr(field, "unit", "") else ""
        words = (
            f"{field.label}: {value}{unit} is unusual; {_range(*self._usual(name), unit)}. "
            "Change it, or say beside it why it is right."
        )
        self.add_error(name, ValidationError(words, code="unlikely"))  # type: ignore[attr-defined]


def _range(low: Bound, high: Bound, unit: str) -> str:
    if low is None:
        return f"most are {high}{unit} or less"
    if high is None:
        return f"most are {low}{unit} or more"
    return f"most lie between {low} and {high}{unit}"
