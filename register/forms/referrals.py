"""A referral in one sitting: pain, legs and bladder, fracture, health, drugs, warnings, urgency."""

from typing import Any, ClassVar

from crispy_forms.layout import Div, Fieldset, Row
from django import forms
from django.utils.timezone import localdate

from register.domain.days import day_words, known_words
from register.forms.base import StrictMeta
from register.forms.dates import ThreeBoxDateField
from register.forms.editing import EditForm
from register.forms.layout import helper
from register.forms.life import within_life
from register.forms.rows import Lines, RowForm, rows_formset
from register.models import Fracture, Referral, ReferralDrug


def a_day(label: str, **options: Any) -> ThreeBoxDateField:
    """A day that is not to come."""
    return ThreeBoxDateField(label=label, latest=localdate, latest_words="today", **options)


_SELECTED = (
    "is_inpatient", "analgesia_optimal", "can_lie_prone", "liver_disease",
    "takes_antithrombotics", "allergy_to_cement", "allergy_to_contrast", "allergy_to_latex",
    "takes_steroids",
)  # fmt: skip


class ReferralForm(EditForm):
    """The facts of a referral that the rules and the theatre ask for."""

    may_say_why = True
    referred_on = a_day("Date of the referral")
    received_on = a_day("Received here", required=False)
    neurology_since = a_day("Changed since", required=False)
    bone_drug_started_on = a_day("Bone-protecting drug started", required=False)
    uncertain_dates: ClassVar = {"onset_on": "onset_precision"}

    class Meta(StrictMeta):
        model = Referral
        fields: ClassVar = [
            "referred_on", "received_on", "source", "referrer_name", "is_inpatient", "onset_on",
            "mechanism", "pain_rest", "pain_moving", "pain_trend",
            "analgesic_step", "analgesia_tried", "analgesia_days", "analgesia_optimal",
            "failure_criteria", "mobility", "neurology", "neurology_since", "asia_grade",
            "weight_kg", "height_cm", "asa_grade", "frailty_index_5", "can_lie_prone",
            "heart_lung_note", "liver_disease", "takes_antithrombotics", "allergies",
            "allergy_to_cement", "allergy_to_contrast", "allergy_to_latex", "cancer_history",
            "cancer_note", "infection_signs", "infection_state", "infection_note",
            "resistant_organism", "takes_steroids", "bone_drug_started_on", "pregnancy",
            "no_mri_reason", "no_mri_note", "mri_equivalent", "urgency", "note",
        ]  # fmt: skip
        labels: ClassVar = {
            "source": "Sent by",
            "referrer_name": "Referrer",
            "is_inpatient": "In hospital now",
            "onset_on": "Pain began",
            "mechanism": "Injury",
            "pain_rest": "Pain at rest",
            "pain_moving": "Pain on movement",
            "pain_trend": "Course of the pain",
            "analgesic_step": "Analgesic step",
            "analgesia_tried": "Analgesia tried",
            "analgesia_days": "On analgesia for",
            "analgesia_optimal": "Analgesia is optimal",
            "failure_criteria": "Signs that conservative care fails",
            "neurology": "Neurology",
            "asia_grade": "Spinal cord injury grade, A to E",
            "weight_kg": "Weight",
            "height_cm": "Height",
            "asa_grade": "ASA grade",
            "frailty_index_5": "Frailty index",
            "can_lie_prone": "Can lie on the front",
            "heart_lung_note": "Heart and lungs",
            "liver_disease": "Chronic liver disease",
            "takes_antithrombotics": "Takes drugs that thin the blood",
            "allergies": "Allergies",
            "cancer_history": "Previous cancer",
            "cancer_note": "Which cancer, when",
            "infection_signs": "Signs of infection",
            "infection_state": "Infection",
            "infection_note": "Which infection, treated how",
            "resistant_organism": "Resistant organism carried",
            "takes_steroids": "Takes steroids",
            "no_mri_reason": "MRI not possible because of",
            "no_mri_note": "More about it",
            "mri_equivalent": "Done in its place",
            "urgency": "How urgent, in your judgement",
        }
        help_texts: ClassVar = {"frailty_index_5": ""}
        widgets: ClassVar = {name: forms.Select for name in _SELECTED} | {
            "note": forms.Textarea({"rows": 3})
        }

    def __init__(self, *args: Any, whose: str, **options: Any) -> None:
        super().__init__(*args, **options)
        within_life(self, self.instance.patient)
        self.helper = helper(self.key, *_LAYOUT, *self.asks_why, save="Save referral", whose=whose)

    def clean(self) -> dict[str, Any]:
        """Check the order of the days: the pain, then the letter, then its arrival."""
        cleaned = super().clean()
        sent, arrived = cleaned.get("referred_on"), cleaned.get("received_on")
        if sent and arrived and arrived < sent:
            words = f"must be on or after {day_words(sent)} (the date of the referral)"
            self.add_error("received_on", f"Received here: {words}.")
        began = cleaned.get("onset_on")
        if sent and began and began > sent:
            words = f"must be on or before {day_words(sent)} (the date of the referral)"
            self.add_error("onset_on", f"Pain began: {words}.")
        return cleaned


_LAYOUT = (
    Div(
        Div(
            Fieldset(
                "The referral",
                Row("referred_on", "received_on"),
                Row("source", "is_inpatient", "referrer_name"),
            ),
            Fieldset("Legs and bladder", Row("neurology", "asia_grade", "neurology_since")),
        ),
        Fieldset(
            "Pain",
            Row("onset_on", "mechanism"),
            Row("pain_rest", "pain_moving", "pain_trend"),
            Row("analgesic_step", "analgesia_optimal", "analgesia_days"),
            Row("analgesia_tried", "mobility"),
            "failure_criteria",
        ),
        css_class="pair",
    ),
    Fieldset("Fractured levels", Lines("fractures")),
    Fieldset("When MRI is not possible", Row("no_mri_reason", "mri_equivalent", "no_mri_note")),
    Div(
        Fieldset(
            "Health",
            Row("asa_grade", "can_lie_prone", "liver_disease", "pregnancy"),
            Row("weight_kg", "height_cm", "frailty_index_5"),
            Row("allergies"),
            Row("allergy_to_cement", "allergy_to_contrast", "allergy_to_latex"),
            "heart_lung_note",
        ),
        Div(
            Fieldset(
                "Warning signs",
                Row("cancer_history", "cancer_note"),
                Row("infection_state", "infection_note", "resistant_organism"),
                "infection_signs",
            ),
            Fieldset("Bone", Row("takes_steroids", "bone_drug_started_on")),
        ),
        css_class="pair",
    ),
    Fieldset("Drugs that thin the blood", "takes_antithrombotics", Lines("drugs")),
    Fieldset("Urgency", "urgency", "note"),
)


class DrugForm(RowForm):
    """One antithrombotic drug with what it is taken for."""

    boxes = ("drug", "indication", "dose", "last_taken_on", "note")
    last_taken_on = a_day("Last taken", required=False)

    class Meta(StrictMeta):
        model = ReferralDrug
        fields: ClassVar = ["drug", "indication", "dose", "last_taken_on", "note"]
        labels: ClassVar = {"indication": "Taken for"}
        widgets: ClassVar = {
            "dose": forms.TextInput({"class": "box--short"}),
            "note": forms.TextInput({"class": "box--short"}),
        }


class LevelForm(RowForm):
    """One fractured level of a referral. Its onset is the referral's unless changed by itself."""

    boxes = ("level", "tender", "matches_imaging", "cause")
    can_be_removed = False

    class Meta(StrictMeta):
        model = Fracture
        fields: ClassVar = ["level", "tender", "matches_imaging", "cause"]
        labels: ClassVar = {
            "tender": "Tender over it",
            "matches_imaging": "Greatest pain lies where the image shows it",
        }
        help_texts: ClassVar = {"tender": "", "matches_imaging": ""}
        widgets: ClassVar = {"tender": forms.Select, "matches_imaging": forms.Select}


DrugFormSet = rows_formset(DrugForm, extra=2)
LevelFormSet = rows_formset(LevelForm, extra=2)


class FractureForm(EditForm):
    """One fracture by itself: its own onset, what the examination found, its cause."""

    may_say_why = True
    uncertain_dates: ClassVar = {"onset_on": "onset_precision"}

    class Meta(StrictMeta):
        model = Fracture
        fields: ClassVar = ["level", "onset_on", *LevelForm.Meta.fields[1:], "earlier_fracture"]
        labels: ClassVar = LevelForm.Meta.labels | {
            "onset_on": "It began",
            "earlier_fracture": "Broken here before",
        }
        help_texts: ClassVar = LevelForm.Meta.help_texts
        widgets: ClassVar = LevelForm.Meta.widgets

    def __init__(self, *args: Any, whose: str, **options: Any) -> None:
        super().__init__(*args, **options)
        within_life(self, self.instance.patient)
        earlier: Any = self.fields["earlier_fracture"]
        earlier.queryset = (
            Fracture.objects.live()
            .filter(patient=self.instance.patient, level=self.instance.level)
            .exclude(pk=self.instance.pk)
        )
        earlier.label_from_instance = _told
        earlier.empty_label = "no earlier fracture in the register"
        self.helper = helper(
            "version",
            "level",
            "onset_on",
            Row("tender", "matches_imaging"),
            Row("cause", "earlier_fracture"),
            *self.asks_why,
            save="Save fracture",
            whose=whose,
        )

    def clean(self) -> dict[str, Any]:
        """An earlier fracture is one of the same level."""
        cleaned = super().clean()
        earlier = cleaned.get("earlier_fracture")
        if earlier and earlier.level != cleaned.get("level"):
            self.add_error("earlier_fracture", f"Broken here before: that was {earlier.level}.")
        return cleaned


def _told(fracture: Fracture) -> str:
    """Name an earlier fracture by its level, its onset, and what became of it."""
    onset = known_words(fracture.onset_on, fracture.onset_precision)
    return f"{fracture.level}, onset {onset}, {fracture.get_state_display()}"
