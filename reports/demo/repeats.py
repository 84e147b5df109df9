"""Repeat readings: some MRI of the past were measured again, by the same doctor or by the other.

None is blinded, as nobody marked them: the page of repeat readings shows what such readings
tell, and that the published bound stays.
"""

from datetime import date, timedelta
from random import Random
from typing import Any, Final

from reports.demo import parameters
from reports.demo.book import Book, Row, tenth

# One in so many fractured bodies on an MRI was measured again, and how far back: invented.
ONE_IN: Final = 3
SETTLED_DAYS: Final = 60
DAYS_LATER: Final = 14
# Error of one reading of an angle, degrees: invented.
ANGLE_NOISE_DEG: Final = 1.4
_HEIGHTS: Final = (
    "anterior_height_mm",
    "middle_height_mm",
    "posterior_height_mm",
    "depth_mm",
)


def add_repeat_readings(book: Book, doctors: list[Row], seed: int, today: date) -> None:
    """Write a second reading of every third fractured body that an old MRI shows."""
    last = today - timedelta(days=SETTLED_DAYS)
    for place, first in enumerate(_fractured(book, last), start=1):
        if place % ONE_IN:
            continue
        by_other = place % (2 * ONE_IN) == 0
        observer = first["observer"]
        if by_other:
            observer = next(one for one in doctors if one is not observer)
        _read_again(book, Random(f"{seed} again {place}"), first, observer)


def _fractured(book: Book, last: date) -> list[Row]:
    """Return the measurements of fractured bodies on MRI up to a day."""
    return [
        row
        for row in book.of("measurement")
        if row["reading"]["study"]["modality"] == "mri"
        and row["measured_on"] <= last
        and row.get("vertebral_angle_deg") is not None
    ]


def _read_again(book: Book, rng: Random, first: Row, observer: Row) -> None:
    reading = first["reading"]
    on = first["measured_on"] + timedelta(days=DAYS_LATER)
    again = book.add(
        "reading",
        study=reading["study"],
        level=reading["level"],
        fracture=reading["fracture"],
        observer=observer,
        read_on=on,
        end_plates=reading.get("end_plates") or "",
    )
    book.add("measurement", reading=again, observer=observer, measured_on=on, **_values(rng, first))


def _values(rng: Random, first: Row) -> dict[str, Any]:
    """Return the numbers of a second reading: both readings miss the body by as much."""
    apart = 2**0.5 * parameters.HEIGHT_NOISE_MM.value
    values = {
        name: tenth(max(float(first[name]) + rng.gauss(0, apart), 3.0))
        for name in _HEIGHTS
        if first.get(name) is not None
    }
    turned = rng.gauss(0, 2**0.5 * ANGLE_NOISE_DEG)
    same = ("method", "posture", "calibration", "angle_end_plates", "width_mm")
    return values | {
        "vertebral_angle_deg": tenth(float(first["vertebral_angle_deg"]) + turned),
        **{name: first[name] for name in same if first.get(name)},
    }
