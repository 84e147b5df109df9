"""How the needles of planned levels go: through the middle of the pedicle that was read.

All numbers but the width are invented.
"""

from math import hypot, radians, tan
from typing import Final

from register.domain.levels import region
from reports.demo.book import Book, Row, tenth

MEDIAL_DEG: Final = {"thoracic": 8.0, "thoracolumbar": 13.0, "lumbar": 19.0}
CRANIAL_DEG: Final = -4.0
DEVICE_MM: Final = 4.0
WALL_LATERAL_MM: Final = {"left": 10.5, "right": 11.0}
WALL_BEHIND_MM: Final = 5.0
ENTRY_BEHIND_MM: Final = 24.0
ENTRY_ABOVE_MM: Final = {"left": 5.0, "right": 4.5}
REACH_MM: Final = {"left": 24.0, "right": 22.5}


def add_needles(book: Book, planned: Row) -> None:
    """Write both needles of a level that is approached through the pedicle and was read on a scan.

    Draws nothing by chance, so that no other invented row changes.
    """
    reading = next(
        (
            row
            for row in book.of("reading")
            if row.get("fracture") is planned["fracture"] and row.get("pedicle_width_left_mm")
        ),
        None,
    )
    if reading is None or planned["approach"] != "transpedicular":
        return
    medial = MEDIAL_DEG[region(planned["fracture"]["level"])]
    for side in ("left", "right"):
        width = reading[f"pedicle_width_{side}_mm"]
        aside = tan(radians(medial)) * (ENTRY_BEHIND_MM - WALL_BEHIND_MM)
        slope = hypot(1, tan(radians(medial)), tan(radians(CRANIAL_DEG)))
        book.add(
            "plannedapproach",
            level=planned,
            side=side,
            medial_angle_deg=tenth(medial),
            cranial_angle_deg=tenth(CRANIAL_DEG),
            depth_mm=tenth((ENTRY_BEHIND_MM + REACH_MM[side]) * slope),
            pedicle_width_mm=width,
            device_mm=tenth(DEVICE_MM),
            entry_lateral_mm=tenth(WALL_LATERAL_MM[side] + float(width) / 2 + aside),
            entry_behind_mm=tenth(ENTRY_BEHIND_MM),
            entry_above_mm=tenth(ENTRY_ABOVE_MM[side]),
            wall_lateral_mm=tenth(WALL_LATERAL_MM[side]),
            wall_behind_mm=tenth(WALL_BEHIND_MM),
        )
