"""Making two records one, moving a record to its right patient, and undoing either."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from crispy_forms.layout import Fieldset
from django import forms
from django.utils.html import escape

from register.forms.base import RegisterForm
from register.forms.layout import Save, helper
from register.models import Patient, Review, Site
from register.selectors.merging import Comparison
from register.selectors.moving import MovePlan, Question
from register.selectors.patients import patients_found
from register.selectors.rows_in_words import row_words
from register.services.editing import EditConflict

_SHOW_AGAIN: Final = "Look at both again, then decide."


def _reason(example: str) -> forms.CharField:
    return forms.CharField(
        label="Why",
        max_length=250,
        help_text=f"For example: {example}.",
        error_messages={"required": "Say why; the reason stays with both records."},
    )


def _told(error: EditConflict) -> str:
    who = f" by {error.changed_by}" if error.changed_by else ""
    return f"It was changed{who} while you had this page open. Nothing was done. {_SHOW_AGAIN}"


class RightPatientForm(RegisterForm):
    """The patient to whom an entry belongs, by number: a name alone moves nothing."""

    number = forms.CharField(
        label="Hospital number or NHS Number of the right patient",
        max_length=40,
        widget=forms.TextInput({"class": "box--short", "autocomplete": "off"}),
        error_messages={"required": "Enter the hospital number or the NHS Number."},
    )

    def __init__(self, *args: Any, site: Site, whose: Patient, **options: Any) -> None:
        super().__init__(*args, **options)
        self.site, self.whose = site, whose
        self.helper = helper("number", save=Save("Compare both patients", wait="Looking…"))

    def clean_number(self) -> Patient:
        """Return the one patient with this number."""
        found = patients_found(self.site, self.cleaned_data["number"], by_number_only=True)
        people = list(found[:2])
        if len(people) != 1:
            raise forms.ValidationError(
                "Several patients have this number: use the other number."
                if people
                else "Nobody has this number. Compare it with the letter, and type all of it."
            )
        if people[0].pk == self.whose.pk:
            raise forms.ValidationError("This is the patient whose record it is in already.")
        return people[0]


class MergeForm(RegisterForm):
    """Whose value stands in each field that differs, which of two fractures is kept, and why."""

    stay_version = forms.IntegerField(widget=forms.HiddenInput)
    gone_version = forms.IntegerField(widget=forms.HiddenInput)
    reason = _reason("referred by two hospitals under two numbers")
    sure = forms.BooleanField(
        label="I have compared names, day of birth and numbers with the letters or the hospital’s "
        "own system: both records are of one person.",
        error_messages={"required": "Compare them first, then tick this."},
    )

    def __init__(self, *args: Any, comparison: Comparison, **options: Any) -> None:
        super().__init__(*args, **options)
        self.comparison = comparison
        self._ask_groups()
        self._ask_clashes()
        self.fields["stay_version"].initial = comparison.stay.version
        self.fields["gone_version"].initial = comparison.gone.version
        groups = [name for name in self.fields if name.startswith("field_")]
        kept = [name for name in self.fields if name.startswith("kept_")]
        self.helper = helper(
            "stay_version",
            "gone_version",
            *([Fieldset("Which value stands", *groups)] if groups else []),
            *([Fieldset("The same fracture in both", *kept)] if kept else []),
            Fieldset("Confirm", "reason", "sure"),
            save=Save("Make them one record", wait="Making them one…", serious=True),
            whose=f"{comparison.stay}, {comparison.stay.hospital_number}: "
            f"{comparison.gone.hospital_number} is set aside",
        )

    def _ask_groups(self) -> None:
        for one in self.comparison.asked:
            self.fields[f"field_{one.key}"] = forms.ChoiceField(
                label=one.label,
                choices=[("stay", one.stay), ("gone", one.gone)],
                initial="stay",
                widget=forms.RadioSelect,
                error_messages={"required": f"{one.label}: choose the value that stands."},
            )

    def _ask_clashes(self) -> None:
        for clash in self.comparison.foldable:
            both = {
                "stay": f"keep that of {self.comparison.stay.hospital_number}: "
                f"{row_words(clash.there)}, {clash.there.get_state_display()}",
                "gone": f"keep that of {self.comparison.gone.hospital_number}: "
                f"{row_words(clash.row)}, {clash.row.get_state_display()}",
            }
            offered = [(end, words) for end, words in both.items() if clash.keep in ("", end)]
            self.fields[f"kept_{clash.key}"] = forms.ChoiceField(
                label=clash.row.level,
                choices=offered,
                widget=forms.RadioSelect,
                help_text="What hangs on the other goes to it: readings, assessments, decisions, "
                "plans, treatments and contacts. The other is set aside.",
                error_messages={"required": f"{clash.row.level}: say which of the two is kept."},
            )

    @property
    def versions(self) -> tuple[int, int]:
        """The versions that the person compared, of the record that stays and of the other."""
        return self.cleaned_data["stay_version"], self.cleaned_data["gone_version"]

    def answers(self, start: str) -> dict[str, str]:
        """Return the answers of one kind ("field_", "kept_") by key."""
        return {
            name.removeprefix(start): value
            for name, value in self.cleaned_data.items()
            if name.startswith(start)
        }

    def show_conflict(self, error: EditConflict) -> None:
        """Say who changed one of the two; the page shows both as they stand now."""
        self.add_error(None, _told(error))
        data: Any = self.data.copy()  # type: ignore[attr-defined]
        data["stay_version"] = str(self.comparison.stay.version)
        data["gone_version"] = str(self.comparison.gone.version)
        self.data = data


class MoveForm(RegisterForm):
    """What hangs on an entry: does it go along? Then why it is moved."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    digest = forms.CharField(widget=forms.HiddenInput, required=False)
    reason = _reason("two patients of the same name in one clinic")

    def __init__(
        self, *args: Any, plan: MovePlan, questions: Sequence[Question], whose: str, **options: Any
    ) -> None:
        super().__init__(*args, **options)
        self.plan = plan
        for question in questions:
            self.fields[_name(question.key)] = _along(question)
        self.fields["version"].initial = plan.row.version
        self.fields["digest"].initial = plan.digest
        names = [_name(question.key) for question in questions]
        self.helper = helper(
            "version",
            "digest",
            *([Fieldset("What hangs on it", *names)] if names else []),
            "reason",
            save=Save("Move it", wait="Moving…", serious=True),
            whose=whose,
        )

    @property
    def was_read(self) -> bool:
        """Whether the list on the page that was sent is the list as it stands."""
        return bool(self.cleaned_data["digest"] == self.plan.digest)

    def renew(self) -> None:
        """Let the next press confirm the list that is shown now."""
        data: Any = self.data.copy()  # type: ignore[attr-defined]
        data["digest"], data["version"] = self.plan.digest, str(self.plan.row.version)
        self.data = data

    def show_conflict(self, error: EditConflict) -> None:
        """Say who changed the entry; the next press decides."""
        self.add_error(None, _told(error))
        self.renew()


def answers_in(data: Mapping[str, Any] | None) -> dict[str, str]:
    """Return the answers of a posted move by the key of the question; {} when only asked for."""
    start = _name("")
    return {
        name.removeprefix(start): str(value)
        for name, value in (data or {}).items()
        if name.startswith(start) and value in ("along", "stays")
    }


def _name(key: str) -> str:
    return f"with_{key}"


def _along(question: Question) -> forms.ChoiceField:
    choices = [("along", "It goes along")]
    if question.may_stay:
        choices.append(("stays", "It stays, and is no longer linked with what moves"))
    words = row_words(question.row)
    why = ". ".join(question.sentences)
    only = "" if question.may_stay else " One cannot be moved without the other."
    return forms.ChoiceField(
        label=words,
        choices=choices,
        widget=forms.RadioSelect,
        help_text=escape(f"{why}.{only}"),
        error_messages={"required": f"{words}: say whether it goes along."},
    )


class AnswersForm(RegisterForm):
    """To which open contact of the right patient the answers belong, and why."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    contact = forms.TypedChoiceField(
        label="Which contact of this patient it was",
        coerce=int,
        widget=forms.RadioSelect,
        error_messages={"required": "Say to which contact the answers belong."},
    )
    reason = _reason("the page of the patient called before was still open")

    def __init__(
        self, *args: Any, review: Review, contacts: Sequence[Review], whose: str, **options: Any
    ) -> None:
        super().__init__(*args, **options)
        self.review = review
        self.fields["version"].initial = review.version
        field: Any = self.fields["contact"]
        field.choices = [(one.pk, row_words(one)) for one in contacts]
        save = Save("Move the answers", wait="Moving…", serious=True)
        self.helper = helper("version", "contact", "reason", save=save, whose=whose)

    def show_conflict(self, error: EditConflict) -> None:
        """Say who changed the contact; the next press decides."""
        self.add_error(None, _told(error))
        data: Any = self.data.copy()  # type: ignore[attr-defined]
        data["version"] = str(self.review.version)
        self.data = data


class UndoForm(RegisterForm):
    """Why a transfer is undone."""

    reason = _reason("they are two people after all")

    def __init__(self, *args: Any, whose: str, **options: Any) -> None:
        super().__init__(*args, **options)
        save = Save("Undo it", wait="Undoing…", serious=True)
        self.helper = helper("reason", save=save, whose=whose)
