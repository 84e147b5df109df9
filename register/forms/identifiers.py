"""The NHS Number, typed or pasted with spaces and dashes, checked before it is kept."""

from typing import Any

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError

from register.domain import nhs_number


class NhsNumberField(forms.CharField):
    """Ten digits with a right check digit, as digits alone; '' when the box is empty.

    In the demo and in tests only numbers that are never issued (starting 999)
    are taken, so that no real person can be typed in by mistake.
    """

    widget = forms.TextInput({"class": "box--nhs", "inputmode": "numeric", "autocomplete": "off"})

    def __init__(self, **options: Any) -> None:
        options.setdefault("required", False)
        options.setdefault("label", "NHS Number")
        options.pop("max_length", None)  # spaces and dashes may be typed
        super().__init__(**options)

    def to_python(self, value: Any) -> str:
        """Return the ten digits. Raises ValidationError with what to do."""
        text = super().to_python(value)
        if not text:
            return ""
        digits = nhs_number.digits_of(text)
        if not (digits.isascii() and digits.isdigit()):
            self._refuse("type the ten digits; older numbers with letters are not kept here")
        if len(digits) != 10:
            self._refuse(f"it has ten digits, this has {len(digits)}")
        if not nhs_number.is_nhs_number(digits):
            self._refuse(
                "a digit is mistyped, the last one does not fit the others. "
                "Compare it with the letter or the wristband"
            )
        if settings.REGISTER_DEMO and not nhs_number.is_test_number(digits):
            self._refuse("the demonstration takes only invented numbers, which start with 999")
        return digits

    def prepare_value(self, value: Any) -> Any:
        """Show a stored number 3-3-4, and what was typed as it was typed."""
        stored = isinstance(value, str) and value.isdigit() and nhs_number.is_nhs_number(value)
        return nhs_number.formatted(value) if stored else value

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Compare digits; spaces are not a change."""
        return nhs_number.digits_of(initial or "") != nhs_number.digits_of(data or "")

    def _refuse(self, words: str) -> None:
        raise ValidationError(f"{self.label}: {words}.", code="nhs_number")
