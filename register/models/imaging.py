"""What was seen: the examination, the reading of one level, and its measurements."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from register.domain.levels import LEVEL_CHOICES, LEVEL_CODES
from register.domain.vocabulary import (
    CALIBRATION,
    COUNTED_FROM,
    END_PLATE,
    EPIDURAL_GRADE,
    HEIGHT_METHOD,
    MODALITY,
    OEDEMA,
    POSTERIOR_WALL,
    POSTURE,
    TENSION_BAND,
    TRANSITIONAL,
)
from register.models.base import (
    CodeField,
    Record,
    absence,
    by_a_person,
    choice,
    known,
    link,
    number,
    text,
    voiding,
    within,
)


class Study(Record):
    """One imaging examination and how its levels were counted."""

    patient = link("Patient", related_name="studies")
    modality = choice(MODALITY, blank=False)
    sequences = text(200, help_text="For example T1, T2, STIR; sagittal and axial")
    performed_on = models.DateField()
    posture = choice(POSTURE)
    counted_from = choice(COUNTED_FROM)
    transitional = choice(TRANSITIONAL)
    rib_bearing_bodies = models.PositiveSmallIntegerField(null=True, blank=True)
    numbering_confirmed_by = link("User", null=True, blank=True, related_name="+")
    numbering_confirmed_at = models.DateTimeField(null=True, blank=True)
    numbering_note = text(
        300, help_text="How this numbering agrees with another study that numbers differently"
    )
    report = models.TextField(blank=True, default="")
    MAY_BE_ABSENT = ("posture", "counted_from", "transitional", "rib_bearing_bodies")

    class Meta:
        ordering: ClassVar = ["-performed_on", "-pk"]
        constraints: ClassVar = [
            known("study", "modality", MODALITY, blank=False),
            known("study", "posture", POSTURE),
            known("study", "counted_from", COUNTED_FROM),
            known("study", "transitional", TRANSITIONAL),
            within("study", "rib_bearing_bodies", 10, 14, "The number of rib-bearing bodies"),
            by_a_person("study", "numbering", "The numbering is confirmed by a named person."),
            voiding("study"),
            *absence(
                "study",
                values=["rib_bearing_bodies"],
                texts=["posture", "counted_from", "transitional"],
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_modality_display()}, {self.performed_on:%d %b %Y}"


_SIGNS = [
    "cleft",
    "fluid_sign",
    "retropulsion_mm",
    "canal_percent",
    "pedicle_signal",
    "posterior_element_signal",
    "convex_posterior_border",
    "epidural_mass",
    "paraspinal_mass",
    "other_lesions",
    "disc_centred",
    "translation",
    "pedicle_width_left_mm",
    "pedicle_width_right_mm",
    "shift_ratio",
    "diffusion",
]
_FINDINGS = ("end_plates", "oedema", "posterior_wall", "epidural_grade", "tension_band")


class Reading(Record):
    """What one observer read at one level of one study."""

    study = link(Study, related_name="readings")
    level = CodeField(max_length=3, choices=LEVEL_CHOICES)
    fracture = link("Fracture", null=True, blank=True, related_name="readings")
    observer = link("User", related_name="readings")
    read_on = models.DateField()

    end_plates = choice(END_PLATE, help_text="End plates that gave way")
    oedema = choice(OEDEMA)
    cleft = models.BooleanField(null=True, blank=True)
    fluid_sign = models.BooleanField(null=True, blank=True)
    posterior_wall = choice(POSTERIOR_WALL)
    retropulsion_mm = number(3, 1)
    canal_percent = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Share of the canal that is taken up, %"
    )
    pedicle_signal = models.BooleanField(null=True, blank=True)
    posterior_element_signal = models.BooleanField(null=True, blank=True)
    convex_posterior_border = models.BooleanField(null=True, blank=True)
    epidural_grade = choice(EPIDURAL_GRADE)
    epidural_mass = models.BooleanField(null=True, blank=True)
    paraspinal_mass = models.BooleanField(null=True, blank=True)
    other_lesions = models.BooleanField(null=True, blank=True)
    disc_centred = models.BooleanField(null=True, blank=True)
    tension_band = choice(TENSION_BAND)
    translation = models.BooleanField(null=True, blank=True)
    pedicle_width_left_mm = number(3, 1)
    pedicle_width_right_mm = number(3, 1)
    shift_ratio = number(3, 2, help_text="Opposed-phase to in-phase signal")
    diffusion = number(4, 3, help_text="Apparent diffusion coefficient, 10⁻³ mm²/s")
    quantitative_note = text(200, help_text="Sequence, b-values, whose cut")
    note = models.TextField(blank=True, default="")

    MAY_BE_ABSENT = (*_SIGNS, *_FINDINGS)

    class Meta:
        ordering: ClassVar = ["-read_on", "-pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(level__in=LEVEL_CODES),
                name="reading_level_known",
                violation_error_message="Choose a level from C1 to S5.",
            ),
            models.UniqueConstraint(
                fields=["study", "level", "observer", "read_on"],
                condition=Q(voided_at=None),
                name="reading_once_per_observer_and_day",
                violation_error_message="You already read this level of this study on that day.",
            ),
            known("reading", "end_plates", END_PLATE),
            known("reading", "oedema", OEDEMA),
            known("reading", "posterior_wall", POSTERIOR_WALL),
            known("reading", "epidural_grade", EPIDURAL_GRADE),
            known("reading", "tension_band", TENSION_BAND),
            within("reading", "retropulsion_mm", 0, 30, "Retropulsion in mm"),
            within("reading", "canal_percent", 0, 100, "The share of the canal in %"),
            within("reading", "pedicle_width_left_mm", 1, 30, "Pedicle width in mm"),
            within("reading", "pedicle_width_right_mm", 1, 30, "Pedicle width in mm"),
            within("reading", "shift_ratio", 0, 5, "The signal ratio"),
            within("reading", "diffusion", 0, 5, "The diffusion coefficient"),
            voiding("reading"),
            *absence("reading", values=_SIGNS, texts=_FINDINGS),
        ]

    def __str__(self) -> str:
        return f"{self.level}, {self.read_on:%d %b %Y}"


_HEIGHTS = ("anterior", "middle", "posterior", "left", "right")
_ANGLES = ("vertebral", "local", "segmental", "regional", "tilt")
_MEASURES = (
    *(f"{name}_height_mm" for name in _HEIGHTS),
    "depth_mm",
    "width_mm",
    *(f"{name}_angle_deg" for name in _ANGLES),
)


class Measurement(Record):
    """Heights, depth, width (mm) and angles (degrees) of one reading, in one posture.

    Angles are positive for kyphosis; the end plates between which an angle was
    taken are stored by name, because the names of the angles differ among papers.
    `marking` holds the marks it was computed from (None: typed), `outline` the marked
    shape as {mark: [x_mm, y_mm]}, upright, the front on the left, its centre at 0 (None:
    nothing in mm was marked), `plus_minus` the half width of the 95 % interval of each
    number, {field: text}, in the unit of the field.
    """

    reading = link(Reading, related_name="measurements")
    observer = link("User", related_name="measurements")
    measured_on = models.DateField()
    method = choice(HEIGHT_METHOD)
    posture = choice(POSTURE)
    calibration = choice(CALIBRATION)
    anterior_height_mm = number(4, 1)
    middle_height_mm = number(4, 1)
    posterior_height_mm = number(4, 1)
    left_height_mm = number(4, 1)
    right_height_mm = number(4, 1)
    depth_mm = number(4, 1)
    width_mm = number(4, 1)
    vertebral_angle_deg = number(4, 1)
    local_angle_deg = number(4, 1)
    segmental_angle_deg = number(4, 1)
    regional_angle_deg = number(4, 1)
    tilt_angle_deg = number(4, 1)
    angle_end_plates = text(400, help_text="For example upper T12 to lower L1")
    marking = link("Marking", null=True, blank=True, related_name="measurements")
    outline = models.JSONField(null=True, blank=True)
    plus_minus = models.JSONField(default=dict, blank=True)

    MAY_BE_ABSENT = (*_MEASURES, "posture", "method", "calibration")

    class Meta:
        ordering: ClassVar = ["-measured_on", "-pk"]
        constraints: ClassVar = [
            known("measurement", "method", HEIGHT_METHOD),
            known("measurement", "posture", POSTURE),
            known("measurement", "calibration", CALIBRATION),
            # Possible ranges are wide on purpose: common practice, no source.
            *(
                within("measurement", f"{name}_height_mm", 1, 60, f"The {name} height in mm")
                for name in _HEIGHTS
            ),
            within("measurement", "depth_mm", 10, 60, "Depth in mm"),
            within("measurement", "width_mm", 10, 80, "Width in mm"),
            *(
                within("measurement", f"{name}_angle_deg", -90, 120, f"The {name} angle in degrees")
                for name in _ANGLES
            ),
            voiding("measurement"),
            *absence(
                "measurement",
                values=_MEASURES,
                texts=["posture", "method", "calibration"],
            ),
        ]

    def __str__(self) -> str:
        return f"Measurement of {self.measured_on:%d %b %Y}"
