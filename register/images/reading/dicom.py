"""One DICOM file: what its header says, and whether its picture can be read at all.

Everything that can be told without decoding is refused here, when the file comes in:
later a person would stand before it. Only the header is parsed; the values stay where
they are until a picture is asked for.
"""

from typing import Any, BinaryIO, Final

import pydicom
from pydicom import uid as uids
from pydicom.filereader import _read_file_meta_info, read_preamble
from pydicom.pixels import get_decoder
from pydicom.pixels.utils import as_pixel_options

from register.images.answers import BYTES_PER_POINT
from register.images.limits import MOST_ANSWER, MOST_FRAMES
from register.images.reading import values
from register.images.reading.frames import Groups, frames_of, meaning
from register.images.reading.plain import CannotRead, day, text, uid, whole
from register.images.reading.stored import Stored, find_stored

pydicom.config.settings.reading_validation_mode = pydicom.config.IGNORE

_VIDEO: Final = tuple(f"1.2.840.10008.1.2.4.{number}" for number in range(100, 109))
# Beginnings of the numbers of what is no picture (SOP classes, DICOM PS3.4 B.5).
_NO_PICTURES: Final = (
    ("1.2.840.10008.5.1.4.1.1.104.", "document"),
    ("1.2.840.10008.5.1.4.1.1.88.", "report"),
    ("1.2.840.10008.5.1.4.1.1.11.", "presentation"),
    ("1.2.840.10008.5.1.4.1.1.481.", "radiotherapy"),
    ("1.2.840.10008.5.1.4.1.1.9.", "waveform"),
    ("1.2.840.10008.1.3.10", "directory"),
    ("1.2.840.10008.5.1.4.1.1.66.4", "one_bit"),
    ("1.2.840.10008.5.1.4.1.1.66.", "none"),
)
_CAPTURED: Final = "1.2.840.10008.5.1.4.1.1.7"
_PORTAL_IMAGE: Final = "1.2.840.10008.5.1.4.1.1.481.1"  # a film taken at the treatment machine
_MODALITIES: Final = {"SR": "report", "PR": "presentation", "ECG": "waveform"} | dict.fromkeys(
    ("RTPLAN", "RTSTRUCT", "RTDOSE", "RTRECORD"), "radiotherapy"
)
_GREY: Final = ("MONOCHROME1", "MONOCHROME2")
_COLOUR: Final = ("RGB", "YBR_FULL", "YBR_FULL_422", "YBR_ICT", "YBR_RCT")
PALETTE: Final = "PALETTE COLOR"


class DicomImage:
    """A file that has pictures. Raises CannotRead when opened, for the reasons in refusals."""

    def __init__(self, source: BinaryIO) -> None:
        self.source = source
        declared = declared_syntax(self.source)
        try:
            self.header = pydicom.dcmread(self.source, stop_before_pixels=True, force=True)
        except EOFError as error:
            raise CannotRead("truncated") from error
        self._refuse_what_is_no_picture()
        stored = find_stored(self.source)
        if stored is None:
            raise CannotRead("none" if len(self.header) > 1 else "damaged")
        self.syntax = declared or _guessed_syntax(self.header, stored)
        self._set_shape()
        self.stored = stored
        self.stored.check(self.syntax, expected=self._expected_bytes(), frames=self.frame_count)
        self._check_decoder()

    # --- checks --------------------------------------------------------------------

    def _refuse_what_is_no_picture(self) -> None:
        kind = str(self.header.get("SOPClassUID") or "")
        kind = kind or str(self.header.file_meta.get("MediaStorageSOPClassUID") or "")
        for beginning, code in _NO_PICTURES:
            if kind.startswith(beginning) and kind != _PORTAL_IMAGE:
                raise CannotRead(code)
        code = _MODALITIES.get(text(self.header.get("Modality")), "")
        if code and kind != _PORTAL_IMAGE:
            raise CannotRead(code)

    def _set_shape(self) -> None:
        """Read how large the picture is and how its points are stored; refuse what is odd."""
        header = self.header
        rows, columns = whole(header.get("Rows")), whole(header.get("Columns"))
        count = header.get("NumberOfFrames")
        frames = 1 if count in (None, "", 0) else whole(count)
        if not rows or not columns or frames is None or min(rows, columns, frames) < 1:
            raise CannotRead("damaged")
        self.rows, self.columns, self.frame_count = rows, columns, frames
        self.samples = whole(header.get("SamplesPerPixel")) or 1
        self.photometric = text(header.get("PhotometricInterpretation")).upper()
        self.allocated = whole(header.get("BitsAllocated")) or 0
        self.bits = whole(header.get("BitsStored")) or self.allocated
        self.signed = whole(header.get("PixelRepresentation")) == 1
        self._refuse_odd_points()
        self.layout = values.layout_of(self)
        if rows * columns * BYTES_PER_POINT[self.layout] > MOST_ANSWER:
            raise CannotRead("size", f"{columns:,} × {rows:,}")
        if frames > MOST_FRAMES:
            raise CannotRead("frames", f"{frames:,}")

    def _refuse_odd_points(self) -> None:
        if self.allocated == 1:
            raise CannotRead("one_bit")
        high = whole(self.header.get("HighBit"))
        odd = high is not None and high + 1 != self.bits
        if self.allocated not in (8, 16, 32) or not 1 < self.bits <= self.allocated or odd:
            raise CannotRead("bits", f"{self.bits} of {self.allocated} bits")
        known = (*_GREY, PALETTE) if self.samples == 1 else _COLOUR
        if self.samples not in (1, 3) or self.photometric not in known:
            raise CannotRead("colour", self.photometric or "not said")

    def _expected_bytes(self) -> int:
        """Return how many bytes all pictures need when they are not compressed."""
        points = self.rows * self.columns * self.samples * self.frame_count
        if self.photometric == "YBR_FULL_422":
            points = points * 2 // 3
        return points * self.allocated // 8

    def _check_decoder(self) -> None:
        syntax = self.syntax
        if syntax == uids.JPEGExtended12Bit and self.bits != 8:
            raise CannotRead("twelve_bit")
        try:
            if get_decoder(syntax).is_available:
                return
        except NotImplementedError:
            pass
        raise CannotRead("syntax", syntax_name(syntax))

    # --- answers -------------------------------------------------------------------

    def index(self) -> dict[str, Any]:
        """Return what the header says, by the names of Indexed."""
        get = self.header.get
        burned = text(get("BurnedInAnnotation"), 8).upper()
        return {
            "kind": "dicom",
            "rows": self.rows,
            "columns": self.columns,
            "layout": self.layout,
            "inverted": self.photometric == "MONOCHROME1",
            "frames": list(frames_of(self.header, self.frame_count)),
            "identity": self._identity(),
            "burned_in": {"YES": True, "NO": False}.get(burned),
            "sop_uid": uid(get("SOPInstanceUID")),
            "study_uid": uid(get("StudyInstanceUID")),
            "study_date": day(get("StudyDate")),
            "series_uid": uid(get("SeriesInstanceUID")),
            "series_number": whole(get("SeriesNumber")),
            "series_description": text(get("SeriesDescription")),
            "instance_number": whole(get("InstanceNumber")),
            "frame_of_reference": uid(get("FrameOfReferenceUID")),
            "modality": text(get("Modality"), 16).upper(),
            "body_part": text(get("BodyPartExamined"), 40),
            "laterality": text(get("ImageLaterality") or get("Laterality"), 8).upper(),
            "view_position": text(get("ViewPosition"), 16).upper(),
            "projection": self._passes_for_a_slice(),
            "patient_orientation": _two(get("PatientOrientation")),
            "syntax": syntax_name(self.syntax),
            "bits": self.bits,
            "signed": self.signed,
            "photometric": self.photometric,
        }

    def _passes_for_a_slice(self) -> bool:
        """Return whether this is the overview of a CT or a captured screen.

        Their spacing need not be that of the patient.
        """
        is_ct = text(self.header.get("Modality")).upper() == "CT"
        overview = is_ct and "LOCALIZER" in text(self.header.get("ImageType")).upper()
        return overview or str(self.header.get("SOPClassUID") or "").startswith(_CAPTURED)

    def _identity(self) -> dict[str, str]:
        get = self.header.get
        return {
            "name": _name(get("PatientName")),
            "number": text(get("PatientID")),
            "birth_date": day(get("PatientBirthDate")),
            "sex": text(get("PatientSex"), 16),
            "accession": text(get("AccessionNumber")),
        }

    def pixels(self, frame: int) -> tuple[dict[str, Any], memoryview]:
        """Return one picture, by the names of Pixels."""
        if not 0 <= frame < self.frame_count:
            raise CannotRead("frame")
        return values.picture(self, self._decoded(frame), meaning(Groups(self.header, frame)))

    def _decoded(self, frame: int) -> Any:
        self.source.seek(self.stored.begins)
        options = as_pixel_options(self.header) | {
            "pixel_keyword": "PixelData",
            "pixel_vr": self.stored.kind,
            "transfer_syntax_uid": self.syntax,
            "number_of_frames": self.frame_count,
            "photometric_interpretation": self.photometric,
            "samples_per_pixel": self.samples,
            "bits_stored": self.bits,
            "pixel_representation": int(self.signed),
        }
        if not self.syntax.is_encapsulated:
            options["view_only"] = True  # spares a copy; nobody writes into it
        try:
            array, told = get_decoder(self.syntax).as_array(self.source, index=frame, **options)
        except (MemoryError, CannotRead):
            raise
        except Exception as error:
            raise CannotRead("damaged") from error
        if self.samples == 3 and told["photometric_interpretation"] not in ("RGB", "YBR_RCT"):
            raise CannotRead("colour", str(told["photometric_interpretation"]))
        return array


def declared_syntax(source: BinaryIO) -> uids.UID | None:
    """Return how the file says that it is written; None when it does not say so.

    Looked up before the file is parsed, since a packed one would be unpacked at once.
    """
    read_preamble(source, force=True)
    found = _read_file_meta_info(source).get("TransferSyntaxUID")
    source.seek(0)
    if found == uids.DeflatedExplicitVRLittleEndian:
        raise CannotRead("deflated")
    if found in _VIDEO:
        raise CannotRead("video")
    return uids.UID(found) if found else None


def _guessed_syntax(header: Any, stored: Stored) -> uids.UID:
    """Return how a file without its first part is written: as it turned out to be readable."""
    if stored.size is None:
        raise CannotRead("no_syntax")
    implicit, little = header.original_encoding
    if not little:
        return uids.ExplicitVRBigEndian
    return uids.ImplicitVRLittleEndian if implicit else uids.ExplicitVRLittleEndian


def syntax_name(syntax: str) -> str:
    """Return the name of a way to write files, its number when it has none."""
    known = uids.UID(syntax)
    return text(known.name if known.name != str(known) else known)


def _name(value: Any) -> str:
    """Return a person's name as “Family, Given”; in whatever way it was written otherwise."""
    try:
        parts = (value.family_name, value.given_name)
    except (AttributeError, UnicodeError, LookupError):
        return text(value)
    return text(", ".join(part for part in parts if part)) or text(str(value))


def _two(value: Any) -> list[str]:
    found = [text(one, 8).upper() for one in value] if value and not isinstance(value, str) else []
    return found if len(found) == 2 and all(found) else []
