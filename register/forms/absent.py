"""The reason why there is no value, beside the question it belongs to.

A closed question offers the reasons as further answers; any other question has
a small select beside its box. Blank everywhere is "not recorded".
"""

from collections.abc import Iterable
from typing import Any, ClassVar, Final

from django import forms

from register.domain.vocabulary import ABSENT

_MARK: Final = "absent:"
_GROUP: Final = ("No answer because", [(f"{_MARK}{code}", words) for code, words in ABSENT])


class AbsentReasonMixin:
    """For forms whose record has an `absent` map {field: reason}.

    `may_be_absent` names the fields; by default those of the form that the
    model allows (`MAY_BE_ABSENT`). After cleaning, `cleaned_data["absent"]`
    (and the instance of a model form) holds the whole map: reasons of fields
    that are not on the form are kept.
    """

    may_be_absent: ClassVar[Iterable[str] | None] = None

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self._stored_reasons: dict[str, str] = self._reasons_before()
        for name in self._absentable():
            self._offer_reasons(name, self._stored_reasons.get(name, ""))

    def clean(self) -> dict[str, Any]:
        """Move the reasons into one map; a value and a reason together are refused."""
        super().clean()  # type: ignore[misc]
        cleaned: dict[str, Any] = self.cleaned_data  # type: ignore[attr-defined]
        absentable = list(self._absentable())
        kept = {k: v for k, v in self._stored_reasons.items() if k not in absentable}
        given = {name: self._take_reason(name) for name in absentable}
        cleaned["absent"] = kept | {name: reason for name, reason in given.items() if reason}
        if isinstance(self, forms.BaseModelForm):
            self.instance.absent = cleaned["absent"]
        return cleaned

    def _reasons_before(self) -> dict[str, str]:
        instance = getattr(self, "instance", None)
        stored = self.initial.get("absent") or getattr(instance, "absent", None)  # type: ignore[attr-defined]
        return dict(stored or {})

    def _absentable(self) -> Iterable[str]:
        names = self.may_be_absent
        if names is None:
            names = getattr(getattr(self, "instance", None), "MAY_BE_ABSENT", ())
        return [name for name in names if name in self.fields]  # type: ignore[attr-defined]

    def _offer_reasons(self, name: str, stored: str) -> None:
        fields = self.fields  # type: ignore[attr-defined]
        field = fields[name]
        if _closed(field):
            field.choices = [*field.choices, _GROUP]
            if stored:
                self.initial[name] = f"{_MARK}{stored}"  # type: ignore[attr-defined]
            return
        fields[f"{name}_absent"] = companion = forms.ChoiceField(
            choices=[("", "not recorded"), *ABSENT], required=False, initial=stored
        )
        companion.is_companion = True  # type: ignore[attr-defined]

    def _take_reason(self, name: str) -> str:
        """Return the reason given for a field, and leave the field empty of it."""
        cleaned = self.cleaned_data  # type: ignore[attr-defined]
        field = self.fields[name]  # type: ignore[attr-defined]
        value = cleaned.get(name)
        if _closed(field):
            if not str(value).startswith(_MARK):
                return ""
            cleaned[name] = field.empty_value
            return str(value).removeprefix(_MARK)
        reason: str = cleaned.pop(f"{name}_absent", "")
        if reason and value not in field.empty_values:
            self.add_error(  # type: ignore[attr-defined]
                name,
                f"{field.label}: give the value, or the reason why there is none, not both.",
            )
        return reason


def _closed(field: forms.Field) -> bool:
    return isinstance(field, forms.TypedChoiceField)
