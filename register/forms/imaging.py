"""A study, the reading of one level, and the heights of the level and its neighbours."""

from collections.abc import Iterable
from typing import Any, ClassVar, Final

from crispy_forms.layout import Fieldset, Row
from django import forms
from django.db.models import QuerySet
from django.utils.timezone import localdate

from register.domain.outline import Heights
from register.forms.base import StrictMeta
from register.forms.dates import ThreeBoxDateField
from register.forms.editing import EditForm, PartForm, questions
from register.forms.layout import helper
from register.forms.life import within_life
from register.models import Fracture, Measurement, Reading, Study, User
from register.services.imaging import HEIGHTS


class StudyForm(EditForm):
    """One examination and how its levels were counted."""

    may_say_why = True
    performed_on = ThreeBoxDateField(label="Images made", latest=localdate, latest_words="today")

    class Meta(StrictMeta):
        model = Study
        fields: ClassVar = [
            "modality", "performed_on", "sequences", "posture", "counted_from", "transitional",
            "rib_bearing_bodies", "report",
        ]  # fmt: skip
        labels: ClassVar = {
            "modality": "Kind of images",
            "sequences": "Sequences or views",
            "counted_from": "Levels counted",
            "transitional": "Transitional vertebra",
            "rib_bearing_bodies": "Bodies that bear ribs",
            "report": "Report",
        }
        widgets: ClassVar = {"report": forms.Textarea({"rows": 4})}

    def __init__(self, *args: Any, whose: str, **options: Any) -> None:
        super().__init__(*args, **options)
        within_life(self, self.instance.patient)
        self.helper = helper(
            self.key,
            Row("modality", "performed_on"),
            Row("sequences", "posture"),
            Fieldset("Which level is which", "counted_from", "transitional", "rib_bearing_bodies"),
            "report",
            *self.asks_why,
            save="Save study",
            whose=whose,
        )


_YES_NO: Final = (
    "cleft", "fluid_sign", "pedicle_signal", "posterior_element_signal", "convex_posterior_border",
    "epidural_mass", "paraspinal_mass", "other_lesions", "disc_centred", "translation",
)  # fmt: skip


class ReadingForm(EditForm):
    """What one observer read at one level."""

    may_say_why = True
    read_on = ThreeBoxDateField(label="Read on", latest=localdate, latest_words="today")

    class Meta(StrictMeta):
        model = Reading
        fields: ClassVar = [
            "observer", "read_on", "fracture", "end_plates", "oedema", "cleft", "fluid_sign",
            "posterior_wall", "retropulsion_mm", "canal_percent", "epidural_grade",
            "tension_band", "translation", "convex_posterior_border", "pedicle_signal",
            "posterior_element_signal", "epidural_mass", "paraspinal_mass", "other_lesions",
            "disc_centred", "pedicle_width_left_mm", "pedicle_width_right_mm", "shift_ratio",
            "diffusion", "quantitative_note", "note",
        ]  # fmt: skip
        labels: ClassVar = {
            "observer": "Read by",
            "fracture": "Belongs to",
            "end_plates": "End plates that gave way",
            "oedema": "Oedema",
            "cleft": "Cleft inside the body",
            "fluid_sign": "Fluid sign",
            "posterior_wall": "Posterior wall",
            "retropulsion_mm": "Retropulsion",
            "canal_percent": "Canal taken up",
            "epidural_grade": "Epidural compression",
            "tension_band": "Posterior tension band",
            "translation": "Translation or rotation",
            "convex_posterior_border": "Convex posterior border",
            "pedicle_signal": "Abnormal pedicle",
            "posterior_element_signal": "Abnormal posterior elements",
            "epidural_mass": "Epidural mass",
            "paraspinal_mass": "Paraspinal mass",
            "other_lesions": "Lesions at other levels",
            "disc_centred": "Change centred on the disc",
            "pedicle_width_left_mm": "Left pedicle, width",
            "pedicle_width_right_mm": "Right pedicle, width",
            "shift_ratio": "Opposed-phase to in-phase signal",
            "diffusion": "Diffusion coefficient",
            "quantitative_note": "Sequence, b-values, whose cut",
        }
        help_texts: ClassVar = {
            name: "" for name in ("end_plates", "canal_percent", "shift_ratio", "diffusion")
        } | {"quantitative_note": ""}
        widgets: ClassVar = {name: forms.Select for name in _YES_NO} | {
            "note": forms.Textarea({"rows": 3})
        }

    def __init__(
        self,
        *args: Any,
        observers: QuerySet[User],
        fractures: QuerySet[Fracture],
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        seen_on: Any = self.fields["read_on"]
        made_on = self.instance.study.performed_on
        seen_on.bound(earliest=made_on, earliest_words="the day of the images")
        self.fields["observer"].queryset = observers  # type: ignore[attr-defined]
        self.fields["fracture"].queryset = fractures  # type: ignore[attr-defined]
        self.fields["fracture"].empty_label = "no fracture of the register"  # type: ignore[attr-defined]
        self.helper = questions(self.key, *_FINDINGS, *self.asks_why)


_FINDINGS: Final = (
    Fieldset("Who read it", Row("observer", "read_on", "fracture")),
    Fieldset("The fracture", Row("end_plates", "oedema", "cleft", "fluid_sign")),
    Fieldset(
        "Wall, canal, stability",
        Row("posterior_wall", "tension_band", "translation"),
        Row("epidural_grade", "retropulsion_mm", "canal_percent"),
    ),
    Fieldset(
        "Tumour or infection",
        Row("convex_posterior_border", "pedicle_signal", "posterior_element_signal"),
        Row("epidural_mass", "paraspinal_mass", "other_lesions", "disc_centred"),
    ),
    Fieldset(
        "Approach and signal",
        Row("pedicle_width_left_mm", "pedicle_width_right_mm"),
        Row("shift_ratio", "diffusion"),
        "quantitative_note",
    ),
    "note",
)


_OF_THE_MARKS: Final = ("method", "posture", "calibration", "angle_end_plates")


class MeasuredForm(PartForm):
    """Heights and depth of one level; blank boxes are "not recorded"."""

    may_be_absent: ClassVar[Iterable[str] | None] = ()

    class Meta(StrictMeta):
        model = Measurement
        fields: ClassVar = list(HEIGHTS)
        labels: ClassVar = {
            "anterior_height_mm": "Anterior height",
            "middle_height_mm": "Middle height",
            "posterior_height_mm": "Posterior height",
            "depth_mm": "Depth",
        }

    def __init__(self, *args: Any, level: str, **options: Any) -> None:
        if getattr(options.get("instance"), "marking_id", None) is not None:
            self.may_be_absent = ()  # type: ignore[misc] # what was marked needs no reason
        super().__init__(*args, **options)
        self.level = level
        for name in HEIGHTS:
            field = self.fields[name]
            field.label = f"{level} {str(field.label).lower()}"
            field.widget.attrs["aria-label"] = f"{field.label}, in mm"
        if self.instance.marking_id is not None:
            self._leave_to_the_marks()

    def _leave_to_the_marks(self) -> None:
        """Numbers that come from marks change with the marks only, so that the two agree."""
        measured = ("_mm", "_deg")
        for name, field in self.fields.items():
            if name.endswith(measured) or name in _OF_THE_MARKS:
                field.disabled = True
        if "angle_end_plates" in self.fields:
            self.fields["angle_end_plates"].widget = forms.Textarea({"rows": 3})
            self.fields["angle_end_plates"].help_text = ""

    @property
    def plus_minus(self) -> dict[str, str]:
        """The half width of the interval of each marked number, by box; empty when typed."""
        return {name: text for name, text in self.instance.plus_minus.items() if text}

    @property
    def boxes(self) -> list[forms.BoundField]:
        """The four boxes, from the front to the back, the depth last."""
        return [self[name] for name in HEIGHTS]

    def has_values(self) -> bool:
        """Whether there is a measurement to write: an old one, a number, or a reason for none."""
        numbers = [name for name in self.fields if name.endswith(("_mm", "_deg"))]
        typed = any(self.cleaned_data.get(name) is not None for name in numbers)
        return self.instance.pk is not None or typed or bool(self.cleaned_data["absent"])

    def heights(self) -> Heights:
        """Return what can be drawn of the boxes as they are; what cannot be read is left out."""
        self.is_valid()
        read: dict[str, Any] = {_DRAWN[name]: self.cleaned_data.get(name) for name in HEIGHTS}
        return Heights(**read)


class DrawnForm(MeasuredForm):
    """The same boxes while somebody types: nothing is asked and nothing saved."""

    asks_about_unusual: ClassVar[bool] = False


_DRAWN: Final = {
    "anterior_height_mm": "anterior_mm",
    "middle_height_mm": "middle_mm",
    "posterior_height_mm": "posterior_mm",
    "depth_mm": "depth_mm",
}
_ANGLES: Final = ("vertebral", "local", "segmental", "regional", "tilt")
_MORE: Final = ("left_height_mm", "right_height_mm", "width_mm")


class MeasurementForm(MeasuredForm):
    """Everything measured at the level itself, and how."""

    may_be_absent = None

    class Meta(StrictMeta):
        model = Measurement
        fields: ClassVar = [
            "method", "posture", "calibration", *HEIGHTS, *_MORE,
            *(f"{name}_angle_deg" for name in _ANGLES), "angle_end_plates",
        ]  # fmt: skip
        labels: ClassVar = MeasuredForm.Meta.labels | {
            "method": "Measured with",
            "calibration": "Scale",
            "left_height_mm": "Left height",
            "right_height_mm": "Right height",
            "width_mm": "Width",
            "vertebral_angle_deg": "Vertebral angle",
            "local_angle_deg": "Local angle",
            "segmental_angle_deg": "Segmental angle",
            "regional_angle_deg": "Regional angle",
            "tilt_angle_deg": "Tilt of the upper end plate",
            "angle_end_plates": "Angles taken between",
        }

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.helper = questions(
            Fieldset("How it was measured", Row("method", "posture", "calibration")),
            Fieldset("More lengths", Row(*_MORE)),
        )
        self.angles = questions(
            Fieldset(
                "Angles; kyphosis is positive",
                Row(*(f"{name}_angle_deg" for name in _ANGLES)),
                "angle_end_plates",
            )
        )
