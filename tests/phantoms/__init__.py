"""Invented vertebrae of exactly known size: their marks, their picture, and the picture as a file.

    column = lateral(LateralBody("T12"), LateralBody("L1", anterior_mm=16), LateralBody("L2"))
    film = column.turned(7).centred(rows=400, columns=300, spacing=(0.4, 0.3))
    film.marks((0.4, 0.3))                   # JSON of a marking, in pixels
    array = paint(film, rows=400, columns=300, spacing=(0.4, 0.3))
    write("film.dcm", array, spacing=(0.4, 0.3), modality="CT")

`lateral`, `frontal` and `axial` return a `Phantom` in mm: anterior, or the
patient's right, lies on the left of the picture. `turned`, `shifted`,
`mirrored` and `centred` return another one. `paint` makes a numpy array, bone
bright for MONOCHROME2; `write` makes a DICOM file of any array, to a path or a
BytesIO, and takes further attributes by their keyword. Spacings are (row,
column) in mm, as files have them. The centre of the first pixel is 0, 0 mm.
"""

from tests.phantoms.files import dataset, write
from tests.phantoms.geometry import (
    AxialSlice,
    FrontalBody,
    LateralBody,
    Phantom,
    axial,
    frontal,
    lateral,
)
from tests.phantoms.paint import paint

__all__ = [
    "AxialSlice",
    "FrontalBody",
    "LateralBody",
    "Phantom",
    "axial",
    "dataset",
    "frontal",
    "lateral",
    "paint",
    "write",
]
