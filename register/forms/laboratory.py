"""Blood tests and bone density."""

from decimal import Decimal
from typing import Any, ClassVar, Final

from crispy_forms.layout import Fieldset, Row
from django import forms
from django.utils.timezone import localdate

from register.domain.vocabulary import LAB_ANALYTE, LAB_UNIT
from register.forms.base import RegisterForm, StrictMeta
from register.forms.dates import ThreeBoxDateField
from register.forms.editing import EditForm, unlikely_words
from register.forms.layout import helper
from register.forms.limits import Bound
from register.forms.numbers import StrictDecimalField
from register.models import BoneDensity
from register.services.receipts import form_token

# Possible (lowest, highest), then usual (lowest, highest), in LAB_UNIT. Common practice, no source.
RANGES: Final[dict[str, tuple[Decimal, Decimal, Bound, Bound]]] = {
    analyte: (Decimal(low), Decimal(high), Decimal(least), Decimal(most))
    for analyte, low, high, least, most in (
        ("inr", "0.5", "20", "0.8", "5"),
        ("platelets", "0", "2000", "50", "600"),
        ("haemoglobin", "20", "250", "70", "180"),
        ("crp", "0", "600", "0", "300"),
        ("esr", "0", "200", "0", "120"),
        ("white_cells", "0", "500", "2", "20"),
        ("creatinine", "10", "2500", "30", "400"),
        ("creatinine_clearance", "0", "250", "10", "140"),
        ("calcium", "1", "5", "1.9", "2.9"),
        ("vitamin_d", "0", "500", "10", "250"),
        ("fibrinogen", "0", "20", "1", "8"),
    )
}


def value_field(analyte: str, label: str = "") -> StrictDecimalField:
    """Return the box of one test, with its unit and ranges; `label` is the test's name."""
    low, high, least, most = RANGES[analyte]
    unit = LAB_UNIT[analyte]
    words = dict(LAB_ANALYTE)[analyte].partition(",")[0]
    return StrictDecimalField(
        label=label or words[:1].upper() + words[1:],
        unit="" if unit == "ratio" else unit,
        required=False,
        decimal_places=2,
        min_value=low,
        max_value=high,
        soft_min=least,
        soft_max=most,
    )


class LaboratoryForm(RegisterForm):
    """The values of one blood test; what was not tested stays empty."""

    token = forms.CharField(widget=forms.HiddenInput, required=False, max_length=64)
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

    def __init__(self, *args: Any, whose: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["token"].initial = form_token()
        self.helper = helper(
            "token",
            "taken_on",
            Fieldset(
                "For the procedure",
                Row("inr", "platelets", "haemoglobin"),
                Row("creatinine", "creatinine_clearance", "fibrinogen"),
            ),
            Fieldset("Infection", Row("crp", "esr", "white_cells")),
            Fieldset("Bone", Row("calcium", "vitamin_d")),
            save="Save blood test",
            whose=whose,
        )

    def clean(self) -> dict[str, Any]:
        """Ask for at least one value."""
        cleaned = super().clean()
        if not self.values() and not self.errors:
            self.add_error("inr", "Enter at least one value.")
        return cleaned

    def values(self) -> dict[str, Decimal]:
        """Return the values typed, by test."""
        return {
            analyte: self.cleaned_data[analyte]
            for analyte in RANGES
            if self.cleaned_data.get(analyte) is not None
        }

    @property
    def unlikely_words(self) -> str:
        """Return the reasons given for unusual values, in one text; '' when there is none."""
        return unlikely_words(self)


class BoneDensityForm(EditForm):
    """A T-score with its site, or the attenuation of a level on CT."""

    measured_on = ThreeBoxDateField(label="Measured", latest=localdate, latest_words="today")
    # Outside this range few results lie; common practice, no source.
    soft_limits: ClassVar[dict[str, tuple[Bound, Bound]]] = {
        "t_score": (-6, 4),
        "attenuation_hu": (-50, 400),
    }

    class Meta(StrictMeta):
        model = BoneDensity
        fields: ClassVar = [
            "measured_on", "t_score", "site", "attenuation_hu", "attenuation_level",
        ]  # fmt: skip
        labels: ClassVar = {
            "t_score": "T-score",
            "site": "Measured at",
            "attenuation_hu": "Attenuation",
            "attenuation_level": "Level",
        }

    def __init__(self, *args: Any, whose: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.helper = helper(
            "token",
            "measured_on",
            Fieldset("Bone density scan", Row("t_score", "site")),
            Fieldset("CT", Row("attenuation_hu", "attenuation_level")),
            save="Save bone density",
            whose=whose,
        )
