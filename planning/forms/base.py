"""What the planning forms share: the version of the record that was read, and clean choices."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.db.models import Model

from register.domain.vocabulary import Words

NOT_RECORDED = ("", "not recorded")


def select(vocabulary: Words, label: str, **options: Any) -> forms.ChoiceField:
    """A choice from a vocabulary; the empty choice says "not recorded"."""
    options.setdefault("required", False)
    return forms.ChoiceField(label=label, choices=[NOT_RECORDED, *vocabulary], **options)


def yes_no(label: str, **options: Any) -> forms.TypedChoiceField:
    """Yes, no, or not recorded (None)."""
    return forms.TypedChoiceField(
        label=label,
        choices=[NOT_RECORDED, ("yes", "yes"), ("no", "no")],
        coerce=lambda value: value == "yes",
        empty_value=None,
        required=False,
        **options,
    )


def clock_time(label: str, **options: Any) -> forms.TimeField:
    """A time of day typed as 08:30."""
    return forms.TimeField(
        label=label,
        input_formats=["%H:%M", "%H.%M", "%H%M"],
        widget=forms.TimeInput(
            format="%H:%M",
            attrs={"inputmode": "numeric", "class": "box--4", "autocomplete": "off"},
        ),
        error_messages={"invalid": "Type the time with hours and minutes, for example 08:30."},
        **options,
    )


class RecordForm(forms.Form):
    """A form over one record. The hidden version tells on which state the person decided.

    `fields_of_record` are read from `instance` as initial values.
    """

    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, instance: Model | None = None, **kwargs: Any) -> None:
        if instance is not None:
            kwargs["initial"] = self.values_of(instance) | kwargs.get("initial", {})
        super().__init__(*args, **kwargs)
        self.instance: Any = instance
        self.version_read: int | None = None

    def values_of(self, instance: Model) -> dict[str, Any]:
        """The record's values as the boxes show them."""
        names = [name for name in self.base_fields if hasattr(instance, name)]
        return {name: _shown(getattr(instance, name)) for name in names}

    @property
    def expected_version(self) -> int:
        """The version that the person saw; 0 (never right) when it was tampered away."""
        return self.version_read or 0

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        self.version_read = data.pop("version", None)
        return data


def offer(form: forms.Form, name: str, rows: Any) -> None:
    """Set what a field of a form offers: rows of a model, or (value, words) pairs."""
    field: Any = form.fields[name]
    if isinstance(field, forms.ModelChoiceField):
        field.queryset = rows
    else:
        field.choices = rows


def _shown(value: Any) -> Any:
    if value is True or value is False:
        return "yes" if value else "no"
    return value


def label_list(names: Iterable[str]) -> str:
    """Names as one phrase: "L1, L2 and L3"."""
    names = list(names)
    return " and ".join(filter(None, [", ".join(names[:-1]), *names[-1:]]))
