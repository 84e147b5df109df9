"""The forms of the theatre log: its period, why names are looked at, and what a line is."""

from collections.abc import Iterable
from typing import Any

from django import forms

from planning.forms.access import ReasonForm
from register.domain.days import day_words
from register.forms.base import RegisterForm
from register.forms.dates import ThreeBoxDateField
from register.forms.editing import renew_version
from register.forms.layout import Save, helper
from register.models import Procedure, TheatreLogEntry
from register.services.editing import EditConflict
from reports.theatre_log import Period


class PeriodForm(RegisterForm):
    """The days that are compared."""

    first = ThreeBoxDateField(label="From")
    last = ThreeBoxDateField(label="To")

    def clean(self) -> dict[str, Any]:
        """Refuse days in the wrong order."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        first, last = cleaned.get("first"), cleaned.get("last")
        if first and last and last < first:
            self.add_error("last", "To: must not be before the day under From.")
        return cleaned

    @property
    def period(self) -> Period:
        """The days of a valid form."""
        return Period(self.cleaned_data["first"], self.cleaned_data["last"])


class NamesForm(ReasonForm):
    """Why the names of a theatre log are looked at."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        reason = self.fields["reason"]
        reason.help_text = "For example: checking which operations of the quarter are not recorded"
        reason.error_messages["required"] = "Say why you look at the names."


class _Settling(RegisterForm):
    """What a person says about one line; its version comes along."""

    version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, line: TheatreLogEntry, **options: Any) -> None:
        super().__init__(*args, initial={"version": line.version}, **options)

    def show_conflict(self, error: EditConflict) -> None:
        """Tell that somebody was faster, and let the next press decide."""
        words = "Somebody said otherwise meanwhile. Look at the line, then decide again."
        self.add_error(None, words)
        renew_version(self, error)


class LinkForm(_Settling):
    """Which recorded procedure a line is."""

    procedure = forms.ChoiceField(
        label="The recorded procedure",
        widget=forms.RadioSelect,
        error_messages={
            "required": "Choose the procedure that the line is.",
            "invalid_choice": "Choose one of the listed procedures.",
        },
    )

    def __init__(self, *args: Any, candidates: Iterable[Procedure], **options: Any) -> None:
        super().__init__(*args, prefix="link", **options)
        self._candidates = {str(one.pk): one for one in candidates}
        field: Any = self.fields["procedure"]
        field.choices = [(number, _words(one)) for number, one in self._candidates.items()]
        save = Save("It is this procedure", "link")
        self.helper = helper("version", "procedure", save=save)

    @property
    def chosen(self) -> Procedure:
        """The procedure of a valid form."""
        return self._candidates[self.cleaned_data["procedure"]]


class NotOursForm(_Settling):
    """Why a line is no procedure of this register."""

    because = forms.CharField(
        label="Why it is none of this register",
        max_length=200,
        help_text="For example: hip replacement; done for another department.",
        error_messages={"required": "Say why it is no procedure of this register."},
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, prefix="apart", **options)
        self.helper = helper(
            "version", "because", save=Save("It is none of ours", "apart", serious=True)
        )


def _words(one: Any) -> str:
    """Return a candidate in words: day, technique, patient, and whether another line is it."""
    patient = one.patient
    words = f"{day_words(one.performed_on)}, {one.technique}: {patient}, {patient.hospital_number}"
    return f"{words} (another line is this one already)" if one.named else words
