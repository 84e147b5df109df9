"""Blood tests and bone density, several days at one sitting."""

from decimal import Decimal
from typing import Any, ClassVar

from crispy_forms.layout import Fieldset, Row
from django import forms
from django.forms.formsets import BaseFormSet, formset_factory
from django.utils.timezone import localdate

from register.domain.usual import BLOOD
from register.domain.vocabulary import LAB_ANALYTE, LAB_UNIT
from register.forms.base import RegisterForm, StrictMeta
from register.forms.dates import ThreeBoxDateField
from register.forms.editing import EditForm, questions
from register.forms.layout import helper
from register.forms.life import within_life
from register.forms.numbers import StrictDecimalField
from register.forms.rows import Lines, RowForm, rows_formset
from register.models import BoneDensity, LaboratoryResult, Patient
from register.services.receipts import form_token
from register.services.referrals import BloodTest


def value_field(analyte: str, label: str = "", *, required: bool = False) -> StrictDecimalField:
    """Return the box of one test, with its unit and ranges; `label` is the test's name."""
    low, high, least, most = BLOOD[analyte]
    words = dict(LAB_ANALYTE)[analyte].partition(",")[0]
    return StrictDecimalField(
        label=label or words[:1].upper() + words[1:],
        unit=LAB_UNIT[analyte],
        required=required,
        decimal_places=2,
        min_value=low,
        max_value=high,
        soft_min=least,
        soft_max=most,
    )


class BloodTestForm(RegisterForm):
    """The values of one blood test; what was not tested stays empty."""

    taken_on = ThreeBoxDateField(label="Blood taken", latest=localdate, latest_words="today")
    inr = value_field("inr")
    platelets = value_field("platelets")
    haemoglobin = value_field("haemoglobin")
    crp = value_field("crp")
    esr = value_field("esr")
    white_cells = value_field("white_cells")
    creatinine = value_field("creatinine")
    creatinine_clearance = value_field("creatinine_clearance")
    calcium = value_field("calcium")
    vitamin_d = value_field("vitamin_d")
    fibrinogen = value_field("fibrinogen")

    def __init__(self, *args: Any, patient: Patient, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["taken_on"].required = False  # a day without any value is no blood test
        within_life(self, patient)
        self.helper = questions("taken_on", *BLOOD)

    def clean(self) -> dict[str, Any]:
        """Ask for the day of the values, and for a value of the day."""
        cleaned = super().clean()
        typed = [name for name in BLOOD if cleaned.get(name) is not None]
        if typed and not cleaned.get("taken_on") and "taken_on" not in self.errors:
            self.add_error("taken_on", "Blood taken: enter the day on which it was taken.")
        if cleaned.get("taken_on") and not typed and not self.errors:
            self.add_error("inr", "Enter at least one value of this day, or empty its date.")
        return cleaned

    def blood_test(self) -> BloodTest:
        """Return the day with its values and the reasons for unusual ones."""
        given = self.cleaned_data
        return BloodTest(
            taken_on=given["taken_on"],
            values={name: given[name] for name in BLOOD if given.get(name) is not None},
            unusual=given["unlikely"],
        )


class _BloodTests(BaseFormSet):
    """Some blank blood tests; those in which nothing was typed count as not there."""

    def blood_tests(self) -> list[BloodTest]:
        """Return the filled ones."""
        return [form.blood_test() for form in self.forms if form.has_changed()]


BloodTestFormSet: Any = formset_factory(
    BloodTestForm, formset=_BloodTests, extra=3, max_num=3, absolute_max=3
)


class BoneDensityForm(RowForm):
    """A T-score with its site, or the attenuation of a level on CT."""

    boxes = ("measured_on", "t_score", "site", "attenuation_hu", "attenuation_level")
    measured_on = ThreeBoxDateField(label="Measured", latest=localdate, latest_words="today")

    class Meta(StrictMeta):
        model = BoneDensity
        fields: ClassVar = [
            "measured_on", "t_score", "site", "attenuation_hu", "attenuation_level",
        ]  # fmt: skip
        labels: ClassVar = {
            "t_score": "T-score",
            "site": "T-score measured at",
            "attenuation_hu": "Or CT attenuation",
            "attenuation_level": "Attenuation of level",
        }

    def clean(self) -> dict[str, Any]:
        """Say beside its box what a value needs."""
        cleaned = super().clean()
        if cleaned.get("t_score") is not None and not cleaned.get("site"):
            self.add_error("site", "Say where the T-score was measured.")
        if cleaned.get("attenuation_hu") is not None and not cleaned.get("attenuation_level"):
            self.add_error("attenuation_level", "Say at which level the attenuation was measured.")
        return cleaned


BoneDensityFormSet = rows_formset(BoneDensityForm, extra=2)


class BloodTests(Lines):
    """The place of the blood tests inside the page's form: side by side, one to a day."""

    template = "register/blood_tests.html"


class BloodAndBoneForm(RegisterForm):
    """The page around blood tests and bone densities."""

    token = forms.CharField(widget=forms.HiddenInput, required=False, max_length=64)

    def __init__(self, *args: Any, whose: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["token"].initial = form_token()
        self.helper = helper(
            "token",
            Fieldset("Blood tests", BloodTests("blood")),
            Fieldset("Bone density", Lines("bones")),
            save="Save blood and bone",
            whose=whose,
        )


class LaboratoryResultForm(EditForm):
    """One value that was typed before, to be corrected. Test and unit stay."""

    may_say_why = True
    taken_on = ThreeBoxDateField(label="Blood taken", latest=localdate, latest_words="today")

    class Meta(StrictMeta):
        model = LaboratoryResult
        fields: ClassVar = ["value", "taken_on"]

    def __init__(self, *args: Any, whose: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["value"] = value_field(self.instance.analyte, required=True)
        self._prepare_questions()
        if self.instance.pk is not None:
            self.initial["value"] = Decimal(f"{self.instance.value.normalize():f}")
        within_life(self, self.instance.patient)
        self.helper = helper(
            self.key,
            Row("value", "taken_on"),
            *self.asks_why,
            save="Save the value",
            whose=whose,
        )
