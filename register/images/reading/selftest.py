"""Whether each way of storing pictures can really be read: a known picture is read and compared.

Being installed is not enough: a decoder may load and still fail. Where the DICOM library
brings the same picture along in two ways, these are compared; the others are packed here.
"""

from collections.abc import Callable
from functools import partial
from io import BytesIO
from pathlib import Path
from typing import Any, Final

import numpy as np
import pydicom
from PIL import Image
from pydicom import uid as uids
from pydicom.encaps import encapsulate

from register.images.reading.dicom import DicomImage, syntax_name

_PACKAGED: Final = Path(pydicom.__file__).parent / "data" / "test_files"
_PLAIN: Final = "MR_small.dcm"
_SIDE: Final = 16
_LOSSY: Final = 4  # shades by which a lossy picture may differ from its original


def decoders() -> list[dict[str, Any]]:
    """Return, for each way, its number, its name and whether it can be read."""
    return [
        {"syntax": str(syntax), "name": syntax_name(syntax), "works": _works(test)}
        for syntax, test in _TESTS
    ]


def _works(test: Callable[[], bool]) -> bool:
    try:
        return test()
    except Exception:  # any failure is the answer
        return False


def _packaged(name: str) -> bytes:
    return (_PACKAGED / name).read_bytes()


def _values(content: bytes) -> bytes:
    return bytes(DicomImage(BytesIO(content)).pixels(0)[1])


def _same(name: str, other: str = _PLAIN) -> bool:
    """Whether a picture of the library is the same as another one of it."""
    first, second = (_values(_packaged(one)) for one in (name, other))
    return first == second


def _jpeg_lossless(syntax: uids.UID) -> bool:
    """Read a picture of the first predictor under both names that it may have."""
    header = pydicom.dcmread(BytesIO(_packaged("SC_rgb_jpeg_gdcm.dcm")))
    header.file_meta.TransferSyntaxUID = syntax
    out = BytesIO()
    header.save_as(out)
    return _values(out.getvalue()) == _values(_packaged(_COLOURS))


_COLOURS: Final = "SC_rgb_rle.dcm"  # the same picture as SC_rgb_jpeg_gdcm.dcm


def _slope() -> Any:
    """Return a picture of all shades."""
    return np.arange(_SIDE * _SIDE).reshape(_SIDE, _SIDE).astype("u1")


def _lossy(syntax: uids.UID, pack: Callable[[], bytes]) -> bool:
    found = np.frombuffer(_values(dicom_of(syntax, pack())), "u1").reshape(_SIDE, _SIDE).astype(int)
    return bool(np.abs(found - _slope()).max() <= _LOSSY)


def _by_pillow(kind: str, **options: Any) -> bytes:
    out = BytesIO()
    Image.fromarray(_slope()).save(out, kind, **options)
    return out.getvalue()


def _by_jpeg_ls() -> bytes:
    import jpeg_ls  # type: ignore[import-untyped]

    return bytes(jpeg_ls.encode_array(_slope(), lossy_error=2))


def dicom_of(syntax: uids.UID, packed: bytes) -> bytes:
    """Return a file that holds a compressed grey picture of 16 × 16 points and 8 bits."""
    header = pydicom.Dataset()
    header.SOPClassUID, header.SOPInstanceUID = uids.SecondaryCaptureImageStorage, "1.2.3"
    header.Rows = header.Columns = _SIDE
    header.SamplesPerPixel, header.PhotometricInterpretation = 1, "MONOCHROME2"
    header.BitsAllocated = header.BitsStored = 8
    header.HighBit, header.PixelRepresentation = 7, 0
    header.PixelData = encapsulate([packed])
    header["PixelData"].VR = "OB"
    header.file_meta = pydicom.dataset.FileMetaDataset()
    header.file_meta.TransferSyntaxUID = syntax
    out = BytesIO()
    header.save_as(out, enforce_file_format=True)
    return out.getvalue()


_TESTS: Final[tuple[tuple[uids.UID, Callable[[], bool]], ...]] = (
    (uids.ImplicitVRLittleEndian, partial(_same, "MR_small_implicit.dcm")),
    (uids.ExplicitVRLittleEndian, partial(_same, _PLAIN)),
    (uids.ExplicitVRBigEndian, partial(_same, "MR_small_bigendian.dcm")),
    (uids.RLELossless, partial(_same, "MR_small_RLE.dcm")),
    (uids.JPEGBaseline8Bit, partial(
        _lossy, uids.JPEGBaseline8Bit, partial(_by_pillow, "JPEG", quality=95))),
    (uids.JPEGLossless, partial(_jpeg_lossless, uids.JPEGLossless)),
    (uids.JPEGLosslessSV1, partial(_jpeg_lossless, uids.JPEGLosslessSV1)),
    (uids.JPEGLSLossless, partial(_same, "MR_small_jpeg_ls_lossless.dcm")),
    (uids.JPEGLSNearLossless, partial(_lossy, uids.JPEGLSNearLossless, _by_jpeg_ls)),
    (uids.JPEG2000Lossless, partial(_same, "MR_small_jp2klossless.dcm")),
    (uids.JPEG2000, partial(_lossy, uids.JPEG2000, partial(
        _by_pillow, "JPEG2000", no_jp2=True, irreversible=True))),
)  # fmt: skip
