"""Forms of the operation record; each part is saved by itself."""

from typing import Any

from django import forms

from planning.forms.base import RecordForm, clock_time, offer, select, yes_no
from register.domain.vocabulary import (
    ABSENT,
    ANAESTHESIA,
    APPROACH,
    COMPLICATION,
    COMPLICATION_CHECK,
    COMPLICATION_GRADE,
    IMPLANT_FATE,
    LEAK_CHECKED,
    LEAK_CONSEQUENCE,
    LEAK_PLACE,
    LEAK_ROUTE,
    LEAK_SEEN_ON,
    LEVEL_CHECK,
    POSTURE,
    SIDE,
    VISCOSITY,
)
from register.forms.dates import ThreeBoxDateField
from register.forms.numbers import StrictDecimalField, StrictIntegerField
from register.models import Site, User


class ProcedureForm(RecordForm):
    """The session facts."""

    operator = forms.ModelChoiceField(User.objects.none(), label="Operator")
    supervisor = forms.ModelChoiceField(
        User.objects.none(), label="Supervisor", required=False, empty_label="none"
    )
    anaesthesia = select(ANAESTHESIA, "Anaesthesia")
    position = select(POSTURE, "Position")
    level_check = select(LEVEL_CHECK, "Level confirmed by")
    in_room_at = clock_time("In the room", required=False)
    needle_at = clock_time("First needle", required=False)
    ended_at = clock_time("End", required=False)
    antibiotic = forms.CharField(label="Antibiotic given", max_length=120, required=False)
    dose_area_gy_cm2 = StrictDecimalField(
        label="Dose-area product",
        unit="Gy·cm²",
        min_value=0,
        max_value=2000,
        decimal_places=2,
        max_digits=7,
        required=False,
        help_text="1 Gy·cm² is 1,000 mGy·cm², 100 cGy·cm² or 100 µGy·m².",
    )
    fluoroscopy_s = StrictIntegerField(
        label="Fluoroscopy time", unit="s", min_value=0, max_value=14400, required=False
    )
    complication_check = select(COMPLICATION_CHECK, "Complications")
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = User.objects.filter(site=site, role="consultant").order_by("last_name", "pk")
        offer(self, "operator", people)
        offer(self, "supervisor", people)


class TreatedLevelForm(RecordForm):
    """Side, approach, biopsy, and whether leaks were looked for."""

    side = select(SIDE, "Side")
    approach = select(APPROACH, "Approach")
    biopsy_taken = yes_no("Biopsy taken")
    leak_check = select(LEAK_CHECKED, "Leaks")
    leak_checked_on = select(LEAK_SEEN_ON, "Looked for on")
    leak_reason = forms.ChoiceField(
        label="Or why leaks were not looked for", choices=[("", "–"), *ABSENT], required=False
    )

    def values_of(self, instance: Any) -> dict[str, Any]:
        return super().values_of(instance) | {"leak_reason": instance.absent.get("leak_check", "")}

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        reason = data.pop("leak_reason", "")
        if reason and data.get("leak_check"):
            self.add_error("leak_reason", "Give the answer or the reason, not both.")
        if data.get("leak_check") and not data.get("leak_checked_on"):
            self.add_error("leak_checked_on", "Say on which images leaks were looked for.")
        absent = {k: v for k, v in self.instance.absent.items() if k != "leak_check"}
        data["absent"] = absent | ({"leak_check": reason} if reason else {})
        return data


class ImplantForm(forms.Form):
    """The scan first; what was read from it is shown before it is kept."""

    raw_scan = forms.CharField(
        label="Scan of the label",
        max_length=200,
        strip=False,
        help_text="Scan the code on the package, or type it with its brackets.",
        error_messages={"required": "Scan or type the code on the package."},
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )
    side = select(SIDE, "Side")
    fate = forms.ChoiceField(label="What became of it", choices=IMPLANT_FATE)
    expansion_mm = StrictDecimalField(
        label="Expansion reached",
        unit="mm",
        min_value=0,
        max_value=30,
        decimal_places=1,
        max_digits=3,
        required=False,
    )


class CementForm(forms.Form):
    """Cement through one side."""

    side = select(SIDE, "Side")
    volume_ml = StrictDecimalField(
        label="Volume",
        unit="mL",
        min_value=0,
        max_value=20,
        decimal_places=1,
        max_digits=4,
        required=False,
    )
    volume_reason = forms.ChoiceField(
        label="Or why there is no volume", choices=[("", "–"), *ABSENT], required=False
    )
    viscosity = select(VISCOSITY, "Viscosity")
    lot = forms.CharField(label="Lot", max_length=20, required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        reason, volume = data.pop("volume_reason", ""), data.get("volume_ml")
        if "volume_ml" not in self.errors:
            if volume is None and not reason:
                self.add_error("volume_ml", "Type the volume, or say why there is none.")
            if volume is not None and reason:
                self.add_error("volume_reason", "Give the volume or the reason, not both.")
        data["absent"] = {"volume_ml": reason} if reason else {}
        return data


class LeakForm(forms.Form):
    """One leak on both axes: by which route, to which place."""

    route = select(LEAK_ROUTE, "Route")
    place = select(LEAK_PLACE, "Place")
    seen_on = forms.ChoiceField(
        label="Seen on",
        choices=[("", "choose"), *LEAK_SEEN_ON],
        error_messages={"required": "Say on which images the leak was seen."},
    )
    consequence = select(LEAK_CONSEQUENCE, "Consequence")
    note = forms.CharField(label="Note", max_length=300, required=False)


class ComplicationForm(forms.Form):
    """One complication with its surgical grade."""

    kind = forms.ChoiceField(
        label="What happened",
        choices=[("", "choose"), *COMPLICATION],
        error_messages={"required": "Say what happened."},
    )
    grade = select(
        COMPLICATION_GRADE,
        "Surgical grade",
        help_text=(
            "I any deviation; II other drugs or transfusion; IIIa intervention without, IIIb with "
            "general anaesthesia; IVa one organ, IVb several organs failing; V death."
        ),
    )
    occurred_on = ThreeBoxDateField(label="Date")
    patient_told = yes_no("Patient was told")
    note = forms.CharField(label="Note", max_length=400, required=False)


class VoidForm(forms.Form):
    """Why an entry is taken back."""

    reason = forms.CharField(
        label="Reason",
        max_length=200,
        error_messages={"required": "Say why this entry is taken back."},
    )
