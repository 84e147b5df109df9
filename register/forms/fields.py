"""The fields of all forms, by one name."""

from register.forms.absent import AbsentReasonMixin
from register.forms.choices import SeveralField, WordsField, YesNoField
from register.forms.dates import KnownDate, ThreeBoxDateField
from register.forms.identifiers import NhsNumberField
from register.forms.limits import SoftLimitMixin
from register.forms.numbers import StrictDecimalField, StrictIntegerField

__all__ = [
    "AbsentReasonMixin",
    "KnownDate",
    "NhsNumberField",
    "SeveralField",
    "SoftLimitMixin",
    "StrictDecimalField",
    "StrictIntegerField",
    "ThreeBoxDateField",
    "WordsField",
    "YesNoField",
]
