"""Closed questions: yes or no, one of a list, several of a list."""

from typing import Any, Final

from django import forms

_YES_NO: Final = {"yes": True, "no": False}


class YesNoField(forms.TypedChoiceField):
    """Yes, no, or not recorded: True, False, None. An unanswered question is never a no."""

    widget = forms.RadioSelect
    short = True  # the choices stand on one line

    def __init__(self, **options: Any) -> None:
        options.setdefault("required", False)
        choices = [("yes", "yes"), ("no", "no"), ("", "not recorded")]
        super().__init__(choices=choices, coerce=_truth, empty_value=None, **options)

    def prepare_value(self, value: Any) -> Any:
        """Show a stored True or False as its word."""
        return {True: "yes", False: "no", None: ""}.get(value, value)

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Compare words, so that an unanswered question stays unchanged."""
        return (self.prepare_value(initial) or "") != (data or "")


def _truth(word: str) -> Any:
    return _YES_NO.get(word, word)


class WordsField(forms.TypedChoiceField):
    """One of a vocabulary, in a select; blank reads "not recorded"."""

    def __init__(self, *, vocabulary: Any, **options: Any) -> None:
        options.setdefault("required", False)
        blank = [] if options["required"] and options.get("initial") else [("", _blank(options))]
        super().__init__(choices=[*blank, *vocabulary], **options)


def _blank(options: dict[str, Any]) -> str:
    return "choose" if options["required"] else "not recorded"


class SeveralField(forms.MultipleChoiceField):
    """Any number of a vocabulary, as ticks. None ticked is not recorded; "none" is a tick."""

    widget = forms.CheckboxSelectMultiple

    def __init__(self, *, vocabulary: Any, **options: Any) -> None:
        options.setdefault("required", False)
        super().__init__(choices=list(vocabulary), **options)
        self._vocabulary = list(vocabulary)

    def clean(self, value: Any) -> list[str]:
        """Refuse "none of these" beside another answer."""
        chosen: list[str] = super().clean(value)
        if "none" in chosen and len(chosen) > 1:
            words = dict(self._vocabulary)["none"]
            raise forms.ValidationError(
                f"{self.label}: “{words}” cannot stand beside another answer. Remove one.",
                code="contradiction",
            )
        return chosen
