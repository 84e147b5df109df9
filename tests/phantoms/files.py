"""A picture as a DICOM file, with every choice in the hands of the test."""

from io import BytesIO
from os import PathLike
from typing import Any

import numpy as np
from pydicom.dataset import Dataset, FileMetaDataset
from pydicom.uid import (
    UID,
    CTImageStorage,
    ExplicitVRBigEndian,
    ExplicitVRLittleEndian,
    MRImageStorage,
    SecondaryCaptureImageStorage,
    generate_uid,
)

_CLASSES = {"CT": CTImageStorage, "MR": MRImageStorage}

# Invented; the number is from the range that is never issued.
PATIENT = {"PatientName": "Moor^Edith", "PatientID": "9990000018", "PatientBirthDate": "19440307"}


def write(target: str | PathLike[str] | BytesIO, array: np.ndarray, **choices: Any) -> Dataset:
    """Write an array as a DICOM file and return what was written; see `dataset` for the choices."""
    made = dataset(array, **choices)
    made.save_as(target, enforce_file_format=True)
    if isinstance(target, BytesIO):
        target.seek(0)
    return made


def dataset(
    array: np.ndarray,
    *,
    spacing: tuple[float, float] | None = None,
    photometric: str = "MONOCHROME2",
    bits: int | None = None,
    slope: float | None = None,
    intercept: float | None = None,
    modality: str = "CT",
    syntax: UID = ExplicitVRLittleEndian,
    **attributes: Any,
) -> Dataset:
    """Return an array as a DICOM data set.

    (rows, columns), (frames, rows, columns), or with a last axis of 3 for RGB.
    The type of the array says how wide and whether signed; `bits` how many of
    them are stored. `spacing` becomes PixelSpacing; a detector's goes in as
    `ImagerPixelSpacing=`. A compressed `syntax` is encoded by pydicom. Other
    attributes by keyword; None takes one away, also one that is written by
    default.
    """
    made = Dataset()
    made.file_meta = FileMetaDataset()
    made.SOPClassUID = _CLASSES.get(modality, SecondaryCaptureImageStorage)
    made.SOPInstanceUID = generate_uid()
    made.file_meta.MediaStorageSOPClassUID = made.SOPClassUID
    made.file_meta.MediaStorageSOPInstanceUID = made.SOPInstanceUID
    basic = {
        "Modality": modality,
        "StudyDate": "20270307",
        "StudyInstanceUID": generate_uid(entropy_srcs=["study"]),
        "SeriesInstanceUID": generate_uid(entropy_srcs=["series", modality]),
        "InstanceNumber": 1,
        "PixelSpacing": list(spacing) if spacing else None,
        "RescaleSlope": slope,
        "RescaleIntercept": intercept,
    }
    for keyword, value in {**PATIENT, **basic, **attributes}.items():
        if value is not None:
            setattr(made, keyword, value)
    _pixels(made, array, photometric, bits, syntax)
    return made


def _pixels(
    made: Dataset, array: np.ndarray, photometric: str, bits: int | None, syntax: UID
) -> None:
    colour = array.ndim > 2 and array.shape[-1] == 3
    shape = array.shape[:-1] if colour else array.shape
    made.Rows, made.Columns = shape[-2:]
    if len(shape) == 3:
        made.NumberOfFrames = shape[0]
    made.SamplesPerPixel = 3 if colour else 1
    made.PhotometricInterpretation = "RGB" if colour else photometric
    if colour:
        made.PlanarConfiguration = 0
    made.BitsAllocated = array.dtype.itemsize * 8
    made.BitsStored = bits or made.BitsAllocated
    made.HighBit = made.BitsStored - 1
    made.PixelRepresentation = int(array.dtype.kind == "i")
    compressed = syntax.is_compressed and not syntax.is_deflated
    plain = ExplicitVRLittleEndian if compressed else syntax
    made.file_meta.TransferSyntaxUID = plain
    swapped = array.astype(array.dtype.newbyteorder(">" if plain == ExplicitVRBigEndian else "<"))
    data = swapped.tobytes()
    made.PixelData = data + b"\0" * (len(data) % 2)
    made["PixelData"].VR = "OB" if made.BitsAllocated == 8 and not syntax.is_implicit_VR else "OW"
    if compressed:
        made.compress(syntax)
