"""Numbers that arrive as typed or not at all.

Django's own number fields read `1_000`, Arabic and full-width digits, `1e3`
and `-0`, and may read `7,5` as 75. A pain score or a millimetre must not change
on its way in, so the spelling is checked before any conversion and nothing is
rounded, filled up or left out.
"""

import re
from decimal import Decimal
from typing import Any, Final, NoReturn

from django import forms
from django.core.exceptions import ValidationError

_EDGES: Final = " \t\r\n"
_PLAIN: Final = re.compile(r"(-?)(0|[1-9][0-9]*)(?:\.([0-9]+))?")
_LONGEST: Final = 15  # characters; more is a pasted mistake, not a measurement

# What is wrong with a spelling and what to do about it, most telling first.
_HINTS: Final = (
    (r"(?![0-9])\d", "use the digits 0 to 9"),
    (r"[^\W\d_]|[%°]", "write figures only, without letters or unit"),
    (r"\s", "write it without spaces"),
    (r"^-?[0-9]+,[0-9]+$", "write a point instead of the comma"),
    (r"[,_']", "write it without separators"),
    (r"^[\u2212\u2013]", "write the minus sign as a plain hyphen"),
    (r"^\+", "write it without the plus sign"),
    (r"^-?\.[0-9]+$", "write a 0 before the point"),
    (r"^-?[0-9]+\.$", "write a figure after the point, or leave the point out"),
    (r"^-?0[0-9]", "write it without the 0 in front, or with a point after it"),
    (r"\..*\.", "write one point only"),
)


class StrictDecimalField(forms.DecimalField):
    """A decimal number with its unit, typed in a text box.

    `unit` is printed beside the box. `soft_min` and `soft_max` bound what is
    usual: a value outside is possible but asks for a reason
    (register.forms.limits). Accepted: ASCII digits, one point, a leading hyphen
    when `min_value` is absent or below 0; blanks around it are ignored.
    """

    widget = forms.TextInput

    def __init__(
        self,
        *,
        unit: str = "",
        soft_min: Decimal | int | None = None,
        soft_max: Decimal | int | None = None,
        **options: Any,
    ) -> None:
        super().__init__(**options)
        self.unit, self.soft_min, self.soft_max = unit, soft_min, soft_max
        self._low, self._high = options.get("min_value"), options.get("max_value")
        # The range is told in words by `validate`, so Django's own validators stay out.
        self.validators = []

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        """Ask for the number keyboard; never type=number, which wheel and arrows change."""
        return {"inputmode": "decimal", "autocomplete": "off"}

    def to_python(self, value: Any) -> Any:
        """Return the number exactly as typed; None for an empty box."""
        if isinstance(value, (Decimal, int)) and not isinstance(value, bool):
            return Decimal(value)
        text = "" if value is None else str(value).strip(_EDGES)
        if not text:
            return None
        self._refuse_odd_spelling(text)
        self._refuse_too_precise(text)
        return Decimal(text)

    def validate(self, value: Any) -> None:
        """Check that a needed number is there and lies inside the possible."""
        if value is None:
            if self.required:
                raise ValidationError(f"{self._name}: enter a number.", code="required")
            return
        low, high = self._low, self._high
        too_low, too_high = low is not None and value < low, high is not None and value > high
        if too_low or too_high:
            raise ValidationError(f"{self._name} must be {self._range()}.", code="range")

    @property
    def _name(self) -> str:
        return str(self.label or "This number")

    @property
    def spoken_unit(self) -> str:
        """The unit as it is read out after the label: "in mm", "of 10"."""
        return self.unit if self.unit.startswith("of ") else f"in {self.unit}"

    @property
    def _unit(self) -> str:
        """The unit behind a range; "from 0 to 10" needs no "of 10"."""
        return f" {self.unit}" if self.unit and not self.unit.startswith("of ") else ""

    def _range(self) -> str:
        if self._low is None:
            return f"{self._high}{self._unit} or less"
        if self._high is None:
            return f"{self._low}{self._unit} or more"
        return f"from {self._low} to {self._high}{self._unit}"

    def _refuse_odd_spelling(self, text: str) -> None:
        found = _PLAIN.fullmatch(text) if len(text) <= _LONGEST else None
        negative = bool(found and found[1])
        if found and not negative:
            return
        if negative and Decimal(text) == 0:
            self._refuse("write 0 without a minus sign")
        if negative and (self._low is None or self._low < 0):
            return
        if negative:
            raise ValidationError(f"{self._name} must be {self._range()}.", code="range")
        self._refuse(next((hint for odd, hint in _HINTS if re.search(odd, text)), self._example()))

    def _refuse_too_precise(self, text: str) -> None:
        _, _, behind = text.partition(".")
        places = self.decimal_places
        if places is None or len(behind) <= places:
            return
        if places == 0:
            self._refuse("write a whole number")
        self._refuse(f"write at most {places} figure{'' if places == 1 else 's'} after the point")

    def _example(self) -> str:
        return "write it in figures, for example 12.5"

    def _refuse(self, hint: str) -> NoReturn:
        raise ValidationError(f"{self._name}: {hint}.", code="spelling")


class StrictIntegerField(StrictDecimalField):
    """A whole number with its unit, typed in a text box; `12.0` is refused, not cut."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**options, decimal_places=0)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        """Ask for the keyboard of digits."""
        return {"inputmode": "numeric", "autocomplete": "off"}

    def to_python(self, value: Any) -> Any:
        """Return the whole number exactly as typed; None for an empty box."""
        number = super().to_python(value)
        return None if number is None else int(number)

    def _example(self) -> str:
        return "write a whole number in figures, for example 7"
