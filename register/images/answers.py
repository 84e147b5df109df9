"""What the reading process says about a file, as types. Missing is None, '' or ()."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

Layout = Literal["uint8", "int16", "uint16", "rgb8"]
BYTES_PER_POINT: Final[dict[str, int]] = {"uint8": 1, "int16": 2, "uint16": 2, "rgb8": 3}


@dataclass(frozen=True, slots=True)
class Identity:
    """Whose picture it is, as the file says; to be shown beside the patient, never to match by.

    `number` is as it stands in the file. `birth_date` is an ISO day where the file holds
    a real one. Kept out of the representation, so that it reaches no log.
    """

    name: str = ""
    number: str = ""
    birth_date: str = ""
    sex: str = ""
    accession: str = ""

    def __repr__(self) -> str:
        return "Identity(…)"

    def __bool__(self) -> bool:
        return any((self.name, self.number, self.birth_date, self.sex, self.accession))


@dataclass(frozen=True, slots=True)
class FrameFacts:
    """One picture of a file. Lengths in mm as the file tells them, without judging them.

    pixel_spacing, imager_spacing: (distance between rows, between columns). aspect: height
    of a point divided by its width. position, orientation: of the centre of the first
    point and of rows and columns in the patient. slope, intercept: from stored values to
    their meaning. centre, width: the first window, with the name of its function.
    """

    number: int  # in the file, the first is 0
    pixel_spacing: tuple[float, float] | None = None
    calibration_type: str = ""
    imager_spacing: tuple[float, float] | None = None
    magnification: float | None = None
    aspect: float | None = None
    thickness: float | None = None
    position: tuple[float, ...] = ()
    orientation: tuple[float, ...] = ()
    slope: float = 1.0
    intercept: float = 0.0
    centre: float | None = None
    width: float | None = None
    function: str = "LINEAR"


@dataclass(frozen=True, slots=True)
class Indexed:
    """A file that can be read: what it says of itself, and its pictures."""

    name: str  # as it was sent
    kind: Literal["dicom", "picture"]
    rows: int
    columns: int
    layout: Layout
    inverted: bool
    frames: tuple[FrameFacts, ...]
    identity: Identity = Identity()
    burned_in: bool | None = None  # whether identity is written into the picture; None: not said
    sop_uid: str = ""
    study_uid: str = ""
    study_date: str = ""  # ISO day
    series_uid: str = ""
    series_number: int | None = None
    series_description: str = ""
    instance_number: int | None = None
    frame_of_reference: str = ""
    modality: str = ""
    body_part: str = ""
    laterality: str = ""
    view_position: str = ""
    projection: bool = False  # an overview or a captured screen that passes for a slice
    patient_orientation: tuple[str, ...] = ()  # of rows (to the right) and columns (down)
    syntax: str = ""  # its name
    bits: int = 8
    signed: bool = False
    photometric: str = ""


@dataclass(frozen=True, slots=True)
class Pixels:
    """One picture: stored values, little endian, row by row; three bytes a point for rgb8.

    `centre` and `width` are the file's first window, otherwise the whole range (`window`
    says which). `padding` is the range of stored values that mean “outside the picture”.
    Overlays are not drawn.
    """

    rows: int
    columns: int
    layout: Layout
    slope: float
    intercept: float
    centre: float
    width: float
    function: str
    window: Literal["file", "table", "range"]
    inverted: bool
    padding: tuple[int, int] | None
    low: int
    high: int
    values: bytes


def indexed(name: str, said: Mapping[str, Any]) -> Indexed:
    """Return an answer as a type. Raises TypeError, ValueError, KeyError for another one."""
    rest = dict(said)
    frames = tuple(FrameFacts(**_tuples(frame)) for frame in rest.pop("frames"))
    identity = Identity(**rest.pop("identity", {}))
    return Indexed(name=name, frames=frames, identity=identity, **_tuples(rest))


def pixels(said: Mapping[str, Any], values: bytes) -> Pixels:
    """Return a picture as a type. Raises ValueError when the values are not as many as said."""
    found = Pixels(values=values, **_tuples(said))
    if len(values) != found.rows * found.columns * BYTES_PER_POINT[found.layout]:
        raise ValueError("the number of values is not the size of the picture")
    return found


def _tuples(said: Mapping[str, Any]) -> dict[str, Any]:
    return {key: tuple(one) if isinstance(one, list) else one for key, one in said.items()}
