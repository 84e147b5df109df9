"""Pictures of phantoms in a study: as files to send, or as rows that are there already."""

from datetime import UTC, datetime
from functools import cache
from io import BytesIO
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from django.core.files.uploadedfile import SimpleUploadedFile

from register.models import ImageFile, ImageFrame, ImageSeries, Marking, Reading, Study, User
from register.services.images import image_store
from tests.phantoms import AxialSlice, LateralBody, Phantom, axial, lateral, paint, write

ROWS, COLUMNS, SPACING = 300, 260, (0.5, 0.4)


@cache
def column() -> Phantom:
    """T12, a wedged L1 and L2, in the middle of the picture."""
    bodies = (
        LateralBody("T12"),
        LateralBody("L1", anterior_mm=16, middle_mm=18),
        LateralBody("L2"),
    )
    return lateral(*bodies, gap_mm=9).centred(rows=ROWS, columns=COLUMNS, spacing=SPACING)


@cache
def _painted() -> Any:
    return paint(column(), rows=ROWS, columns=COLUMNS, spacing=SPACING)


def film(**attributes: Any) -> bytes:
    """The phantom as a DICOM file."""
    target = BytesIO()
    write(target, _painted(), **{"modality": "CT", "spacing": SPACING} | attributes)
    return target.getvalue()


@cache
def plain_film() -> bytes:
    """One and the same file each time, so that the store of the tests does not grow."""
    return film(SOPInstanceUID="1.2.826.0.1.3680043.2.1")


def sent(content: bytes, name: str = "IM0001") -> SimpleUploadedFile:
    """A file as a browser sends it."""
    return SimpleUploadedFile(name, content, "application/octet-stream")


def confirm_numbering(study: Study, user: User) -> None:
    """As if a person had said how the levels were counted."""
    study.counted_from, study.transitional = "sacrum", "no"
    study.numbering_confirmed_by = user
    study.numbering_confirmed_at = datetime(2027, 3, 7, 9, tzinfo=UTC)
    study.save()


def make_series(study: Study, *, plane: str = "sagittal", **fields: Any) -> ImageSeries:
    """A series of one picture; call it inside `acting`."""
    content = plain_film()
    file = ImageFile.objects.create(
        study=study, sha256=image_store().keep(content), size_bytes=len(content), kind="dicom",
        file_name="IM0001",
    )  # fmt: skip
    series = ImageSeries.objects.create(
        study=study, uid="1.2.3", number=2, description="Sagittal", plane=plane,
        told={"number": study.patient.hospital_number}, **fields,
    )  # fmt: skip
    ImageFrame.objects.create(
        series=series, file=file, rows=ROWS, columns=COLUMNS, row_mm=SPACING[0],
        column_mm=SPACING[1], basis="calibrated", aspect=SPACING[0] / SPACING[1],
    )  # fmt: skip
    return series


def make_marking(reading: Reading, frame: ImageFrame) -> Marking:
    """The phantom's own marks, without what they measure; call it inside `acting`."""
    return Marking.objects.create(
        reading=reading, frame=frame, observer=reading.observer, marked_on=reading.read_on,
        view="lateral", marks=column().marks(SPACING),
    )  # fmt: skip


NOBODY = {"PatientName": None, "PatientID": None, "PatientBirthDate": None}


def example_images() -> bytes:
    """The ZIP of `fixtures/images`: an invented spine as a film, sagittal and axial slices.

    The files name nobody, so that whoever tries them meets the question whose they are.
    """
    spine = lateral(
        LateralBody("T12"), LateralBody("L1", anterior_mm=17, middle_mm=18.5),
        LateralBody("L2"), LateralBody("L3"), gap_mm=9,
    ).turned(5)  # fmt: skip
    files = {"film.dcm": _example_film(spine)}
    files |= {f"sagittal/{n:02}.dcm": _example_sagittal(spine, n) for n in range(9)}
    files |= {f"axial/{n:02}.dcm": _example_axial(n) for n in range(9)}
    packed = BytesIO()
    with ZipFile(packed, "w", ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(ZipInfo(name, (2027, 3, 7, 9, 0, 0)), content, ZIP_DEFLATED)
    return packed.getvalue()


def _example_film(spine: Phantom) -> bytes:
    shape = {"rows": 900, "columns": 700, "spacing": (0.24, 0.24)}
    return _example(
        paint(spine.centred(**shape), **shape), 1, 0, modality="DX", ViewPosition="LL",
        ImagerPixelSpacing=[0.24, 0.24], EstimatedRadiographicMagnificationFactor=1.15,
        SeriesDescription="Lateral film",
    )  # fmt: skip


def _example_sagittal(spine: Phantom, number: int) -> bytes:
    shape = {"rows": 360, "columns": 300, "spacing": (0.6, 0.6)}
    return _example(
        paint(spine.centred(**shape), **shape), 2, number, spacing=(0.6, 0.6),
        SeriesDescription="Sagittal", FrameOfReferenceUID="1.2.826.0.1.3680043.2.9",
        ImagePositionPatient=[(number - 4) * 4.0, -90.0, 108.0],
        ImageOrientationPatient=[0.0, 1.0, 0.0, 0.0, 0.0, -1.0],
    )  # fmt: skip


def _example_axial(number: int) -> bytes:
    shape = {"rows": 260, "columns": 260, "spacing": (0.5, 0.5)}
    cut = axial(AxialSlice("L1", retropulsion_mm=3)).centred(**shape)
    return _example(
        paint(cut, **shape), 3, number, spacing=(0.5, 0.5), SeriesDescription="Axial",
        FrameOfReferenceUID="1.2.826.0.1.3680043.2.9",
        ImagePositionPatient=[-65.0, -70.0, 20.0 - number * 5.0],
        ImageOrientationPatient=[1.0, 0.0, 0.0, 0.0, 1.0, 0.0],
    )  # fmt: skip


def _example(picture: Any, series: int, number: int, **attributes: Any) -> bytes:
    target = BytesIO()
    uid = f"1.2.826.0.1.3680043.2.{series}"
    own = {
        "SOPInstanceUID": f"{uid}.{number + 1}", "SeriesInstanceUID": uid, "SeriesNumber": series,
        "InstanceNumber": number + 1, "StudyInstanceUID": "1.2.826.0.1.3680043.2",
    }  # fmt: skip
    write(target, picture, **NOBODY | own | attributes)
    return target.getvalue()
