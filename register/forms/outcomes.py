"""Forms of follow-up: an attempt, an end, the filter of the list, and what they share."""

from datetime import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.timezone import get_current_timezone, localdate, localtime

from register.domain.days import day_words
from register.domain.vocabulary import (
    ATTEMPT_OUTCOME,
    CONTACT_MODE,
    REVIEW_END,
    Words,
    words_for,
)
from register.forms.base import RegisterForm
from register.forms.clock import ClockField
from register.forms.dates import ThreeBoxDateField
from register.forms.editing import tell_problems
from register.forms.filters import FilterForm
from register.models import Patient, Review
from register.services.editing import EditConflict
from register.services.receipts import form_token


def numbered(vocabulary: Words, blank: str = "choose", first: int = 1) -> list[tuple[str, str]]:
    """Return choices that a select finds by their digit: "2 telephone"."""
    words = [(code, f"{place} {told}") for place, (code, told) in enumerate(vocabulary, first)]
    return [("", blank), *words]


def choose(
    label: str, choices: list[tuple[str, str]], *, next_box: bool = False, needed: str = ""
) -> Any:
    """Return a select that must be answered; `needed` says so in its own words."""
    return forms.ChoiceField(
        label=label,
        choices=choices,
        widget=forms.Select({"data-next": ""} if next_box else {}),
        error_messages={"required": needed or f"{label}: choose an answer."},
    )


class TokenForm(RegisterForm):
    """A form that counts once; the page carries its one-time token."""

    token = forms.CharField(
        widget=forms.HiddenInput,
        max_length=64,
        error_messages={"required": "This page is out of date. Open it again and repeat."},
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["token"].initial = form_token()


class AttemptForm(TokenForm):
    """One try to reach somebody."""

    mode = choose("How", numbered(CONTACT_MODE))
    outcome = choose("Outcome", numbered(ATTEMPT_OUTCOME))
    made_on = ThreeBoxDateField(label="Tried on", latest=localdate, latest_words="today")
    made_at = ClockField(label="Tried at")
    next_try_on = ThreeBoxDateField(
        label="Next try", required=False, earliest=localdate, earliest_words="today"
    )
    note = forms.CharField(label="Note", max_length=200, required=False)

    def __init__(self, *args: Any, review: Review, **options: Any) -> None:
        super().__init__(*args, **options)
        made_on: Any = self.fields["made_on"]
        made_on.bound(
            earliest=review.anchor_on, earliest_words="the day from which the contact counts"
        )
        now = localtime()
        self.fields["made_on"].initial, self.fields["made_at"].initial = now.date(), now.time()

    def attempt_fields(self) -> dict[str, Any]:
        """Return the columns of the attempt."""
        given = self.cleaned_data
        made_at = datetime.combine(given["made_on"], given["made_at"], get_current_timezone())
        plain = {name: given[name] for name in ("mode", "outcome", "next_try_on", "note")}
        return plain | {"made_at": made_at}

    @property
    def outcome_words(self) -> str:
        """What came of the try."""
        return words_for(ATTEMPT_OUTCOME, self.cleaned_data["outcome"])


class EndForm(RegisterForm):
    """How a patient's follow-up ended, or that it goes on after all."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    end = choose("How it ended", [])
    ended_on = ThreeBoxDateField(
        label="On",
        required=False,
        latest=localdate,
        latest_words="today",
        help_text="The day of death; otherwise the day it was said or decided.",
    )
    source = forms.CharField(
        label="Who or what says so",
        max_length=200,
        required=False,
        help_text="For example: the hospital system, the general practitioner, the daughter.",
    )

    def __init__(self, *args: Any, patient: Patient, **options: Any) -> None:
        options["initial"] = {
            "version": patient.version,
            "end": patient.follow_up_end,
            "ended_on": patient.follow_up_ended_on,
            "source": patient.follow_up_end_source,
        }
        super().__init__(*args, **options)
        ended_on: Any = self.fields["ended_on"]
        ended_on.bound(earliest=patient.date_of_birth, earliest_words="the date of birth")
        goes_on = (("goes_on", "follow-up goes on"),) if patient.follow_up_end else ()
        end: Any = self.fields["end"]
        end.choices = numbered((*REVIEW_END, *goes_on))

    def clean(self) -> dict[str, Any]:
        """Ask for day and source of an end; neither belongs to follow-up that goes on."""
        cleaned = super().clean()
        if cleaned.get("end") == "goes_on":
            return cleaned | {"end": "", "ended_on": None, "source": ""}
        if cleaned.get("end"):
            for name, words in _END_NEEDS.items():
                if not cleaned.get(name) and name not in self.errors:
                    self.add_error(name, words)
        return cleaned

    @property
    def decision(self) -> str:
        """What is to be confirmed; a changed answer is asked about again."""
        given = self.cleaned_data
        return f"{given['end']} {given['ended_on']} {given['source']}"

    def refuse(self, problem: EditConflict | ValidationError) -> None:
        """Tell what stood against saving; after a conflict the next save is made knowingly."""
        if isinstance(problem, ValidationError):
            tell_problems(self, problem)
            return
        theirs = problem.theirs
        end = words_for(REVIEW_END, theirs["follow_up_end"])
        now = (
            f"{end}, {day_words(theirs['follow_up_ended_on'])}"
            if theirs["follow_up_end"]
            else ("follow-up goes on")
        )
        self.add_error(None, f"{problem} Recorded now: {now}.")
        again: Any = self.data.copy()  # type: ignore[attr-defined]
        again["version"] = str(problem.version)
        self.data = again


_END_NEEDS = {
    "ended_on": "On: enter the day.",
    "source": "Who or what says so: enter it, so that others can check.",
}


GROUPS = [
    ("", "everything open"),
    ("overdue", "overdue"),
    ("due", "due"),
    ("soon", "soon"),
    ("closed", "window closed"),
]


class DueFilter(FilterForm):
    """What of the due list is shown; `timepoints` are those that the protocol asks for."""

    group = forms.ChoiceField(
        label="State", required=False, choices=GROUPS, widget=forms.HiddenInput
    )
    timepoint = forms.ChoiceField(label="Contact", required=False)
    tried = forms.ChoiceField(
        label="Tried",
        required=False,
        choices=[("", "any"), ("none", "not tried yet"), *CONTACT_MODE],
    )

    def __init__(self, data: Any, *, timepoints: list[tuple[str, str]]) -> None:
        self.timepoints = timepoints
        super().__init__(data)

    def offer(self) -> None:
        """Offer the contacts of the protocol."""
        contacts: Any = self.fields["timepoint"]
        contacts.choices = [("", "all"), *self.timepoints]
