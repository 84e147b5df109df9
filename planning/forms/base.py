"""What the planning forms share."""

from collections.abc import Iterable
from typing import Any

from django import forms


def offer(form: forms.BaseForm, name: str, rows: Any) -> None:
    """Set what a field of a form offers: rows of a model, or (value, words) pairs."""
    field: Any = form.fields[name]
    if isinstance(field, forms.ModelChoiceField):
        field.queryset = rows
    else:
        field.choices = rows


def label_list(names: Iterable[str]) -> str:
    """Names as one phrase: "L1, L2 and L3"."""
    names = list(names)
    return " and ".join(filter(None, [", ".join(names[:-1]), *names[-1:]]))
