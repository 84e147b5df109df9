"""Forms of the operation record; each part is saved by itself."""

from typing import Any, ClassVar

from crispy_forms.layout import Fieldset, Row
from django import forms
from django.utils.timezone import localdate

from planning.forms.base import offer
from register.domain.days import day_words
from register.domain.gs1 import parse_udi
from register.domain.vocabulary import IMPLANT_FATE
from register.forms.base import RegisterForm, StrictMeta
from register.forms.choices import WordsField
from register.forms.dates import ThreeBoxDateField
from register.forms.editing import EditForm, questions
from register.models import (
    CementUse,
    Complication,
    ImplantUse,
    Leak,
    Procedure,
    Site,
    TreatedLevel,
    User,
)

_SHORT = {"class": "box--short"}


class ProcedureForm(EditForm):
    """The session: people, times, anaesthesia, X-ray, how the patient was, and what came after."""

    class Meta(StrictMeta):
        model = Procedure
        fields: ClassVar = [
            "operator", "supervisor", "level_check", "position", "in_room_at", "needle_at",
            "ended_at", "anaesthesia", "local_anaesthetic_note", "sedation_note", "antibiotic",
            "room_temperature_c", "dose_area_gy_cm2", "fluoroscopy_s", "lowest_spo2_percent",
            "systolic_fall_percent", "consciousness_lost", "complication_check", "discharged_on",
            "readmitted_on", "note",
        ]  # fmt: skip
        labels: ClassVar = {
            "level_check": "Level confirmed by",
            "in_room_at": "In the room",
            "needle_at": "First needle",
            "ended_at": "End",
            "local_anaesthetic_note": "Local anaesthetic, drug and dose",
            "sedation_note": "Sedation, drugs and doses",
            "antibiotic": "Antibiotic given",
            "room_temperature_c": "Room temperature",
            "dose_area_gy_cm2": "Dose-area product",
            "fluoroscopy_s": "Fluoroscopy time",
            "lowest_spo2_percent": "Lowest oxygen saturation",
            "systolic_fall_percent": "Largest fall of systolic pressure",
            "consciousness_lost": "Consciousness lost",
            "complication_check": "Complications",
            "discharged_on": "Discharged",
            "readmitted_on": "Readmitted",
        }
        help_texts: ClassVar = {
            "needle_at": "",
            "level_check": "",
            "dose_area_gy_cm2": "1 Gy·cm² is 1,000 mGy·cm², 100 cGy·cm² or 100 µGy·m².",
            "room_temperature_c": "Where the cement was mixed",
        }
        widgets: ClassVar = {
            "consciousness_lost": forms.Select,
            "note": forms.Textarea({"rows": 2}),
        }

    def __init__(self, *args: Any, site: Site, **options: Any) -> None:
        super().__init__(*args, **options)
        people = User.objects.filter(site=site, role="consultant").order_by("last_name", "pk")
        offer(self, "operator", people)
        offer(self, "supervisor", people)
        operator: Any = self.fields["operator"]
        operator.required = self.instance.state != "earlier"
        if not operator.required:
            operator.empty_label = "nobody with an account here"
        supervisor: Any = self.fields["supervisor"]
        supervisor.empty_label = "nobody"
        for name in ("discharged_on", "readmitted_on"):
            _since_procedure(self.fields[name], self.instance)
        self.helper = questions(
            self.key,
            Row("operator", "supervisor", "level_check", "position"),
            Fieldset("Times, on the 24-hour clock", Row("in_room_at", "needle_at", "ended_at")),
            Fieldset(
                "Anaesthesia and antibiotic",
                Row("anaesthesia", "antibiotic"),
                Row("local_anaesthetic_note", "sedation_note"),
            ),
            Fieldset(
                "How the patient was",
                Row("lowest_spo2_percent", "systolic_fall_percent", "consciousness_lost"),
            ),
            Fieldset(
                "X-ray and room",
                Row("dose_area_gy_cm2", "fluoroscopy_s", "room_temperature_c"),
            ),
            Fieldset(
                "Afterwards", Row("complication_check", "discharged_on", "readmitted_on"), "note"
            ),
        )

    def clean(self) -> dict[str, Any]:
        """Check the order of the times, and of leaving and coming back."""
        cleaned = super().clean()
        for first, then in (
            ("in_room_at", "needle_at"),
            ("needle_at", "ended_at"),
            ("in_room_at", "ended_at"),
        ):
            early, late = cleaned.get(first), cleaned.get(then)
            if early and late and late < early and then not in self.errors:
                before = self.fields[first].label
                self.add_error(
                    then,
                    f"{self.fields[then].label}: must not be before {early:%H:%M} ({before}).",
                )
        left, back = cleaned.get("discharged_on"), cleaned.get("readmitted_on")
        if left and back and back < left:
            words = f"must be on or after {day_words(left)} (the discharge)"
            self.add_error("readmitted_on", f"Readmitted: {words}.")
        return cleaned


class TreatedLevelForm(EditForm):
    """Side, approach, biopsy, and whether leaks were looked for."""

    class Meta(StrictMeta):
        model = TreatedLevel
        fields: ClassVar = ["side", "approach", "biopsy_taken", "leak_check", "leak_checked_on"]
        labels: ClassVar = {"leak_check": "Leaks", "leak_checked_on": "Looked for on"}
        widgets: ClassVar = {"biopsy_taken": forms.Select}

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.helper = questions(
            self.key,
            Row("side", "approach", "biopsy_taken"),
            Row("leak_check", "leak_checked_on"),
        )

    def clean(self) -> dict[str, Any]:
        """An answer about leaks names the images; without an answer there are none."""
        cleaned = super().clean()
        if cleaned.get("leak_check") and not cleaned.get("leak_checked_on"):
            self.add_error("leak_checked_on", "Say on which images leaks were looked for.")
        if cleaned.get("leak_checked_on") and not cleaned.get("leak_check"):
            self.add_error("leak_check", "Say what was seen, or leave the images empty.")
        return cleaned


class ImplantForm(EditForm):
    """The scan first; what was read from it is shown before it is kept."""

    raw_scan = forms.CharField(
        label="Scan of the label",
        max_length=200,
        strip=False,
        help_text="Scan the code on the package, or type it with its brackets.",
        error_messages={"required": "Scan or type the code on the package."},
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )

    fate = WordsField(
        label="What became of it", vocabulary=IMPLANT_FATE, required=True, initial="implanted"
    )

    class Meta(StrictMeta):
        model = ImplantUse
        fields: ClassVar = ["raw_scan", "side", "fate", "size_label", "expansion_mm"]
        labels: ClassVar = {
            "size_label": "Size on the label",
            "expansion_mm": "Expansion reached",
        }
        help_texts: ClassVar = {"size_label": "Only when it is not in stock"}
        widgets: ClassVar = {"size_label": forms.TextInput(_SHORT)}

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.helper = questions(
            self.key, "raw_scan", Row("side", "fate", "size_label", "expansion_mm")
        )

    def clean_raw_scan(self) -> str:
        """Refuse a scan that cannot be read or trusted, in the words of the reader."""
        scan: str = self.cleaned_data["raw_scan"]
        try:
            parse_udi(scan)
        except ValueError as problem:
            raise forms.ValidationError(str(problem)) from problem
        return scan


class CementForm(EditForm):
    """Cement through one side."""

    class Meta(StrictMeta):
        model = CementUse
        fields: ClassVar = [
            "side", "volume_ml", "viscosity", "cement_class", "working_minutes", "lot",
            "expires_on",
        ]  # fmt: skip
        labels: ClassVar = {
            "cement_class": "Kind of cement",
            "working_minutes": "Working time",
            "expires_on": "Expires",
        }
        widgets: ClassVar = {
            "cement_class": forms.TextInput(_SHORT),
            "lot": forms.TextInput(_SHORT),
        }

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        expires: Any = self.fields["expires_on"]
        day = self.instance.level.procedure.performed_on
        expires.bound(earliest=day, earliest_words="the day of the procedure; take another pack")
        self.helper = questions(
            self.key,
            Row("side", "volume_ml", "viscosity"),
            Row("cement_class", "working_minutes", "lot", "expires_on"),
        )

    def clean(self) -> dict[str, Any]:
        """Cement has a volume, or a reason why there is none."""
        cleaned = super().clean()
        given = cleaned.get("volume_ml") is not None or "volume_ml" in cleaned["absent"]
        if not given and "volume_ml" not in self.errors:
            self.add_error("volume_ml", "Type the volume, or say why there is none.")
        return cleaned


class LeakForm(EditForm):
    """One leak on both axes: by which route, to which place."""

    class Meta(StrictMeta):
        model = Leak
        fields: ClassVar = ["route", "place", "seen_on", "consequence", "note"]
        labels: ClassVar = {"seen_on": "Seen on"}

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["seen_on"].error_messages["required"] = "Say on which images the leak was seen."
        self.helper = questions(self.key, Row("route", "place", "seen_on", "consequence"), "note")


class ComplicationForm(EditForm):
    """One complication with its surgical grade."""

    occurred_on = ThreeBoxDateField(label="Date", latest=localdate, latest_words="today")

    class Meta(StrictMeta):
        model = Complication
        fields: ClassVar = [
            "kind", "level", "grade", "occurred_on", "patient_told", "incident_number", "note",
        ]  # fmt: skip
        labels: ClassVar = {
            "kind": "What happened",
            "level": "At which level",
            "grade": "Surgical grade",
            "patient_told": "Patient was told",
            "incident_number": "Incident number",
        }
        help_texts: ClassVar = {
            "grade": "I any deviation; II other drugs or transfusion; IIIa intervention without, "
            "IIIb with general anaesthesia; IVa one organ, IVb several organs failing; V death.",
        }
        widgets: ClassVar = {
            "patient_told": forms.Select,
            "incident_number": forms.TextInput(_SHORT),
        }

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        procedure = self.instance.procedure
        self.fields["kind"].error_messages["required"] = "Say what happened."
        _since_procedure(self.fields["occurred_on"], procedure)
        offer(self, "level", procedure.levels.live().select_related("fracture"))
        level: Any = self.fields["level"]
        level.empty_label = "no single level"
        self.helper = questions(
            self.key,
            Row("kind", "level", "occurred_on"),
            "grade",
            Row("patient_told", "incident_number"),
            "note",
        )


class VoidForm(RegisterForm):
    """Why an entry is taken back."""

    reason = forms.CharField(
        label="Reason",
        max_length=200,
        error_messages={"required": "Say why this entry is taken back."},
    )


def _since_procedure(field: Any, procedure: Procedure) -> None:
    """Let a day lie between the procedure and today."""
    field.bound(
        earliest=procedure.performed_on,
        earliest_words="the day of the procedure",
        latest=localdate,
        latest_words="today",
    )
