"""Finding a patient, and typing in who they are and how to reach them."""

from typing import Any, ClassVar

from crispy_forms.layout import Div, Fieldset, Row
from django import forms
from django.utils.timezone import localdate

from register.domain.days import day_words
from register.forms.base import StrictMeta
from register.forms.dates import ThreeBoxDateField
from register.forms.editing import EditForm
from register.forms.identifiers import NhsNumberField
from register.forms.layout import helper
from register.forms.rows import Lines, RowForm, rows_formset
from register.models import Patient, PatientPhone, Site
from register.selectors.patients import namesakes, patient_with_number


class SearchForm(forms.Form):
    """What to look for. It is posted and kept in the session: no name in an address."""

    text = forms.CharField(
        label="Name, hospital number or NHS Number",
        max_length=80,
        strip=True,
        widget=forms.TextInput({"type": "search", "autocomplete": "off"}),
        error_messages={"required": "Enter a name or a number."},
    )


class PatientForm(EditForm):
    """The patient. A namesake born on the same day is asked about once."""

    may_say_why = True
    nhs_number = NhsNumberField()
    date_of_birth = ThreeBoxDateField(label="Date of birth", latest=localdate, latest_words="today")
    date_of_death = ThreeBoxDateField(
        label="Date of death", required=False, latest=localdate, latest_words="today"
    )
    alive_checked_on = ThreeBoxDateField(
        label="Known to be alive on",
        required=False,
        latest=localdate,
        latest_words="today",
        help_text="The day on which the hospital system or somebody said so.",
    )
    is_another = forms.BooleanField(
        label="I have compared the records: this is another person",
        required=False,
        widget=forms.HiddenInput,
    )

    class Meta(StrictMeta):
        model = Patient
        fields: ClassVar = [
            "hospital_number", "nhs_number", "family_name", "given_name", "date_of_birth", "sex",
            "date_of_death", "alive_checked_on", "address", "postcode", "care_home", "kin_name",
            "kin_relation",
            "practitioner_name", "practice_name", "practice_address", "language",
            "interpreter_needed", "hearing_need", "sight_need", "capacity_note",
            "objects_to_other_use",
        ]  # fmt: skip
        labels: ClassVar = {
            "hospital_number": "Hospital number",
            "kin_name": "Next of kin or carer",
            "kin_relation": "Relation to the patient",
            "practitioner_name": "General practitioner",
            "practice_name": "Practice",
            "practice_address": "Address of the practice",
            "language": "Language, when not English",
            "interpreter_needed": "Interpreter needed",
            "hearing_need": "Hearing",
            "sight_need": "Sight",
            "capacity_note": "Capacity to consent",
            "objects_to_other_use": "Objects to use beyond care and local audit",
        }
        help_texts: ClassVar = {
            "practitioner_name": "",
            "kin_name": "",
            "objects_to_other_use": "",
        }
        widgets: ClassVar = {
            "hospital_number": forms.TextInput({"class": "box--short", "autocomplete": "off"}),
            "postcode": forms.TextInput({"class": "box--short"}),
            "interpreter_needed": forms.Select,
            "objects_to_other_use": forms.Select,
        }

    def __init__(self, *args: Any, site: Site, **options: Any) -> None:
        super().__init__(*args, **options)
        self.site = site
        whose = str(self.instance) if self.instance.pk else ""
        self.helper = helper(self.key, *_LAYOUT, *self.asks_why, save="Save patient", whose=whose)

    def clean(self) -> dict[str, Any]:
        """Refuse numbers that are taken, and ask about a namesake born on the same day."""
        cleaned = super().clean()
        _in_order_of_life(self, cleaned)
        for name, label in (("hospital_number", "hospital number"), ("nhs_number", "NHS Number")):
            other = patient_with_number(self.site, name, cleaned.get(name, ""), self.instance.pk)
            if other is not None:
                self.add_error(name, f"This {label} belongs to {other}. Open that record instead.")
        if self.instance.pk is None and not self.errors:
            self._ask_about_namesakes(cleaned)
        return cleaned

    def _ask_about_namesakes(self, cleaned: dict[str, Any]) -> None:
        there = namesakes(
            self.site, cleaned["family_name"], cleaned["given_name"], cleaned["date_of_birth"]
        )
        if not there or cleaned.get("is_another"):
            return
        self.fields["is_another"].widget = forms.CheckboxInput()
        told = "; ".join(
            f"{p}, born {day_words(p.date_of_birth)}, hospital number {p.hospital_number}"
            for p in there
        )
        self.add_error(
            "is_another",
            f"Recorded already: {told}. Open that record, or tick that this is another person.",
        )


def _in_order_of_life(form: PatientForm, cleaned: dict[str, Any]) -> None:
    """Birth, then life, then death; each date that breaks the order says so beside its box."""
    born, died = cleaned.get("date_of_birth"), cleaned.get("date_of_death")
    alive = cleaned.get("alive_checked_on")
    birth = f"must be on or after {day_words(born)} (the date of birth)"
    if born and died and died < born:
        form.add_error("date_of_death", f"Date of death: {birth}.")
    if born and alive and alive < born:
        form.add_error("alive_checked_on", f"Known to be alive on: {birth}.")
    elif died and alive and alive > died:
        death = f"must be on or before {day_words(died)} (the day of death)"
        form.add_error("alive_checked_on", f"Known to be alive on: {death}.")


_LAYOUT = (
    "is_another",
    Div(
        Fieldset(
            "Who",
            Row("family_name", "given_name"),
            Row("hospital_number", "nhs_number"),
            Row("date_of_birth", "sex"),
            Row("date_of_death", "alive_checked_on"),
        ),
        Fieldset(
            "Address and next of kin",
            Row("address", "postcode"),
            "care_home",
            Row("kin_name", "kin_relation"),
        ),
        css_class="pair",
    ),
    Fieldset("Telephones", Lines("phones")),
    Div(
        Fieldset(
            "What the patient needs",
            Row("language", "interpreter_needed"),
            Row("hearing_need", "sight_need"),
            "capacity_note",
            "objects_to_other_use",
        ),
        Fieldset("General practitioner", "practitioner_name", "practice_name", "practice_address"),
        css_class="pair",
    ),
)


class PhoneForm(RowForm):
    """One telephone number."""

    boxes = ("number", "kind", "times", "message_allowed")

    class Meta(StrictMeta):
        model = PatientPhone
        fields: ClassVar = ["number", "kind", "times", "message_allowed"]
        labels: ClassVar = {
            "times": "When to ring",
            "kind": "Whose",
            "message_allowed": "Message may be left",
        }
        help_texts: ClassVar = {"times": ""}
        widgets: ClassVar = {
            "number": forms.TextInput({"type": "tel", "class": "box--phone"}),
            "times": forms.TextInput({"class": "box--short"}),
            "message_allowed": forms.Select,
        }


PhoneFormSet = rows_formset(PhoneForm, extra=2)
