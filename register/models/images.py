"""The images of a study: files as they came, their series and frames, and the marks on them."""

from typing import ClassVar

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q
from django.utils.functional import cached_property

from register.domain.image_identity import Known, differences
from register.domain.vocabulary import CALIBRATION, IMAGE_KIND, MARK_VIEW, PIXELS, PLANE
from register.models.base import Record, by_a_person, choice, known, link, text, voiding, within
from register.models.patients import Patient


class ImageFile(Record):
    """One file as it was sent in. Its bytes stand in the image store under their SHA-256."""

    study = link("Study", related_name="image_files")
    sha256 = models.CharField(max_length=64)
    size_bytes = models.PositiveBigIntegerField()
    kind = choice(IMAGE_KIND, blank=False)
    file_name = text(300)

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            known("image_file", "kind", IMAGE_KIND, blank=False),
            models.CheckConstraint(
                condition=Q(sha256__regex="^[0-9a-f]{64}$"),
                name="image_file_sha256_written_so",
                violation_error_message="A SHA-256 has 64 hexadecimal digits.",
            ),
            models.UniqueConstraint(
                fields=["study", "sha256"],
                condition=Q(voided_at=None),
                name="image_file_once_per_study",
                violation_error_message="This file is in the study already.",
            ),
            voiding("image_file"),
        ]

    def __str__(self) -> str:
        return f"file of {self.size_bytes} bytes"


class ImageSeries(Record):
    """Frames that belong together, as the scanner made them, in their order.

    `told` is what the files say of whose they are, {what: text}, with "written" where they
    say that a name stands in the picture itself. Where it differs from what the register
    says of the patient, the series is shown and measured only after a person has confirmed
    whose it is. That holds for one patient, number `confirmed_for`: after a study was moved
    or a record merged it is asked again.
    """

    study = link("Study", related_name="series")
    uid = text(64)
    number = models.IntegerField(null=True, blank=True)
    description = text(100)
    made_with = text(16, help_text="Kind of image as the file names it")
    plane = choice(PLANE, blank=False, default="other")
    frame_of_reference = text(64)
    told = models.JSONField(default=dict, blank=True)
    identity_confirmed_by = link("User", null=True, blank=True, related_name="+")
    identity_confirmed_at = models.DateTimeField(null=True, blank=True)
    identity_note = text(300)
    confirmed_for = models.PositiveBigIntegerField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["number", "pk"]
        constraints: ClassVar = [
            known("image_series", "plane", PLANE, blank=False),
            by_a_person(
                "image_series", "identity", "Whose images these are is confirmed by a named person."
            ),
            voiding("image_series"),
        ]

    def __str__(self) -> str:
        return self.description or self.get_plane_display()

    @cached_property
    def differs(self) -> list[str]:
        """What the files say otherwise than the register does now; ["nothing"] for silence."""
        return differences(self.told, known_of(self.study.patient))

    @property
    def is_confirmed(self) -> bool:
        """Whether a person confirmed the images to be those of this very patient."""
        return (
            self.identity_confirmed_at is not None and self.confirmed_for == self.study.patient_id
        )

    @property
    def is_settled(self) -> bool:
        """Whether nothing in the files speaks against this patient, or a person confirmed it."""
        return self.is_confirmed or not self.differs


def known_of(patient: Patient) -> Known:
    """Return what the register says of a patient, to compare with what files say."""
    return Known(
        family_name=patient.family_name,
        given_name=patient.given_name,
        numbers=tuple(n for n in (patient.hospital_number, patient.nhs_number) if n),
        born_on=patient.date_of_birth,
        sex=patient.sex,
    )


class ImageFrame(Record):
    """One picture: where it lies, how its pixels become grey values, and its scale.

    `row_mm` is the distance between two rows, `column_mm` between two columns; both are
    None while `basis` is "none", and `aspect` (row over column) is what is known then.
    `position` (3 numbers) and `orientation` (6) are those of the scanner in mm, empty
    when not told. Stored value × `slope` + `intercept` is the value that `centre` and
    `width` of the window mean; both are None when the file names no window.
    """

    series = link(ImageSeries, related_name="frames")
    file = link(ImageFile, related_name="frames")
    number = models.PositiveIntegerField(default=0)
    place = models.PositiveIntegerField(default=0)
    rows = models.PositiveIntegerField()
    columns = models.PositiveIntegerField()
    row_mm = models.FloatField(null=True, blank=True)
    column_mm = models.FloatField(null=True, blank=True)
    basis = choice(CALIBRATION, blank=False, default="none")
    aspect = models.FloatField(default=1.0)
    position = ArrayField(models.FloatField(), default=list, blank=True)
    orientation = ArrayField(models.FloatField(), default=list, blank=True)
    slope = models.FloatField(default=1.0)
    intercept = models.FloatField(default=0.0)
    centre = models.FloatField(null=True, blank=True)
    width = models.FloatField(null=True, blank=True)
    inverted = models.BooleanField(default=False)
    layout = choice(PIXELS, blank=False, default="uint16")

    class Meta:
        ordering: ClassVar = ["place", "pk"]
        constraints: ClassVar = [
            known("image_frame", "basis", CALIBRATION, blank=False),
            known("image_frame", "layout", PIXELS, blank=False),
            within("image_frame", "rows", 1, 65535, "Rows of a picture"),
            within("image_frame", "columns", 1, 65535, "Columns of a picture"),
            models.CheckConstraint(
                condition=Q(basis="none", row_mm=None, column_mm=None)
                | (~Q(basis="none") & Q(row_mm__gt=0, column_mm__gt=0)),
                name="image_frame_scale_has_a_basis",
                violation_error_message="Millimetres need a calibrated scale, and its basis.",
            ),
            models.CheckConstraint(
                condition=Q(aspect__gt=0),
                name="image_frame_aspect_above_zero",
                violation_error_message="The aspect of a pixel is above 0.",
            ),
            models.UniqueConstraint(
                fields=["file", "number"],
                condition=Q(voided_at=None),
                name="image_frame_once_per_file",
                violation_error_message="This frame of the file is there already.",
            ),
            voiding("image_frame"),
        ]

    def __str__(self) -> str:
        return f"picture {self.place + 1}"


class Marking(Record):
    """The marks that one observer set on one frame, in pixels of the file.

    `marks` is {level: {mark: [x, y]}}: x the column to the right, y the row downwards,
    the centre of the first pixel is (0, 0); under "known" stands a length that was drawn,
    {"start": [x, y], "end": [x, y], "mm": text}. `mirrored` says that the film was shown
    reversed; the marks are not. `repeats` is the marking that was made again without
    being seen. `point_error_mm` is what a mark was taken to be off by when the numbers
    were computed: a standard deviation in mm.
    """

    reading = link("Reading", related_name="markings")
    frame = link(ImageFrame, related_name="markings")
    observer = link("User", related_name="markings")
    marked_on = models.DateField()
    view = choice(MARK_VIEW, blank=False)
    marks = models.JSONField(default=dict)
    mirrored = models.BooleanField(default=False)
    repeats = link("self", null=True, blank=True, related_name="repeated_by")
    point_error_mm = models.DecimalField(max_digits=5, decimal_places=3, null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-marked_on", "-pk"]
        constraints: ClassVar = [
            known("marking", "view", MARK_VIEW, blank=False),
            models.CheckConstraint(
                condition=~Q(repeats=models.F("id")),
                name="marking_repeats_another",
                violation_error_message="A marking repeats another one, not itself.",
            ),
            models.UniqueConstraint(
                fields=["reading", "frame", "view"],
                condition=Q(voided_at=None),
                name="marking_once_per_reading_frame_and_view",
                violation_error_message="This picture is marked in this reading already.",
            ),
            voiding("marking"),
        ]

    def __str__(self) -> str:
        return f"marks of {self.marked_on:%d %b %Y}"
