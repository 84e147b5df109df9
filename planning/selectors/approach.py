"""What the page of a planned approach shows: numbers, drawings, sizes, published widths."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from planning.approach_words import Line, balance_lines, side_lines
from planning.models import PlannedApproach, PlannedLevel
from planning.selectors.theatre import newest_measurements
from register.domain.approach.fit import Fit, Room, Size, distinct, fits_of
from register.domain.approach.route import SIDES, Place, Route
from register.domain.approach.widths import Width, widths_at
from register.domain.drawing.approach import Scene
from register.domain.protocol import ProtocolValues
from register.models import Fracture, Measurement, Reading, Site, StockItem
from register.templatetags.drawings import heights_of

# Kinds of stock that go through a pedicle with a size of their own.
SIZED: Final = ("implant", "balloon", "screw")


@dataclass(frozen=True, slots=True)
class SideView:
    """One side: the stored row, its route, what follows from it in words, whether it is planned."""

    side: str
    approach: PlannedApproach
    route: Route
    lines: tuple[Line, ...]
    is_planned: bool


@dataclass(frozen=True, slots=True)
class ApproachView:
    """The whole page, without its forms."""

    sides: tuple[SideView, ...]
    balance: tuple[Line, ...]
    scene: Scene
    measurement: Measurement | None
    fits: tuple[Fit, ...]
    room: Room
    room_words: str
    without_size: tuple[str, ...]
    clearance_words: str
    widths: tuple[Width, ...]
    measured_widths: Mapping[str, Decimal]

    @property
    def is_drawn(self) -> bool:
        """Whether at least one needle can be drawn."""
        return bool(self.scene.placed)


def approaches_of(level: PlannedLevel) -> dict[str, PlannedApproach]:
    """Return the row of each side; a new one, with what is known already, where none is stored."""
    stored = {row.side: row for row in PlannedApproach.objects.live().filter(level=level)}
    reading = _reading_of_pedicles(level.fracture)
    return {side: stored.get(side) or _new(level, side, reading) for side in SIDES}


def approach_view(
    level: PlannedLevel, approaches: Mapping[str, PlannedApproach], values: ProtocolValues
) -> ApproachView:
    """Return what follows from both sides' numbers, as they are stored."""
    measurement = newest_measurements([level.fracture_id]).get(level.fracture_id)
    depth = measurement.depth_mm if measurement else None
    stored = {side: row if row.pk else None for side, row in approaches.items()}
    routes = {side: _route(side, row, depth) for side, row in stored.items()}
    room, words = _room(stored, measurement)
    entered = "approach.isthmus_clearance_mm"
    clearance = values.number_if_entered(entered)
    sizes = _sizes(level.fracture.patient.site)
    return ApproachView(
        sides=tuple(
            SideView(side, approaches[side], routes[side], side_lines(routes[side], values),
                     level.side in (side, "both"))
            for side in SIDES
        ),
        balance=balance_lines(routes["left"], routes["right"], values),
        scene=Scene(
            level.fracture.level,
            tuple(routes[side] for side in SIDES if stored[side]),
            heights_of(measurement),
            measurement.width_mm if measurement else None,
        ),
        measurement=measurement,
        fits=fits_of((s for s in sizes if s.says_something), room, clearance_mm=clearance),
        without_size=tuple(s.name for s in sizes if not s.says_something),
        room=room,
        room_words=words,
        clearance_words=values.entry(entered).source.words if clearance is not None else "",
        widths=widths_at(level.fracture.level),
        measured_widths={
            side: row.pedicle_width_mm
            for side, row in stored.items()
            if row and row.pedicle_width_mm is not None
        },
    )  # fmt: skip


def _new(level: PlannedLevel, side: str, reading: Reading | None) -> PlannedApproach:
    """Return a row that is not stored, with the width that was read on the scan."""
    width = getattr(reading, f"pedicle_width_{side}_mm") if reading else None
    return PlannedApproach(level=level, side=side, pedicle_width_mm=width)


def _reading_of_pedicles(fracture: Fracture) -> Reading | None:
    """Return the newest reading of this level with the width of a pedicle."""
    rows = Reading.objects.live().filter(fracture=fracture, level=fracture.level)
    return rows.exclude(pedicle_width_left_mm=None, pedicle_width_right_mm=None).first()


def _route(side: str, row: PlannedApproach | None, body_depth: Decimal | None) -> Route:
    depth = _number(body_depth)
    if row is None:
        return Route(side=side, body_depth_mm=depth)
    out = 1 if side == "left" else -1
    return Route(
        side=side,
        medial_angle_deg=_number(row.medial_angle_deg),
        cranial_angle_deg=_number(row.cranial_angle_deg),
        depth_mm=_number(row.depth_mm),
        entry=Place(
            _number(row.entry_lateral_mm, out),
            _number(row.entry_behind_mm),
            _number(row.entry_above_mm),
        ),
        medial_wall=Place(_number(row.wall_lateral_mm, out), _number(row.wall_behind_mm)),
        pedicle_width_mm=_number(row.pedicle_width_mm),
        device_mm=_number(row.device_mm),
        body_depth_mm=depth,
    )


def _number(value: Decimal | None, sign: int = 1) -> float | None:
    return None if value is None else sign * float(value)


def _room(
    stored: Mapping[str, PlannedApproach | None], measurement: Measurement | None
) -> tuple[Room, str]:
    """Return the narrowest the bone offers, and in words where each number comes from."""
    widths = {side: row.pedicle_width_mm for side, row in stored.items() if row}
    known = {side: width for side, width in widths.items() if width is not None}
    narrow = min(known, key=lambda side: known[side], default=None)
    m = measurement
    heights = [m.anterior_height_mm, m.middle_height_mm, m.posterior_height_mm] if m else []
    lowest = min((h for h in heights if h is not None), default=None)
    room = Room(known[narrow] if narrow else None, lowest, m.depth_mm if m else None)
    words = (
        f"isthmus {room.isthmus_mm} mm ({narrow}, the narrower of those entered)"
        if narrow
        else "isthmus not entered",
        f"lowest measured height {lowest} mm" if lowest is not None else "height not measured",
        f"depth {room.depth_mm} mm" if room.depth_mm is not None else "depth not measured",
    )
    return room, "; ".join(words)


def _sizes(site: Site) -> list[Size]:
    """Return each size of the catalogue once, however many lots are on the shelf."""
    rows = StockItem.objects.live().filter(site=site, kind__in=SIZED, recalled_on=None)
    sizes = (
        Size(
            str(row), row.diameter_mm, row.length_mm, row.needs_isthmus_mm, row.needs_height_mm,
            row.needs_depth_mm, row.most_depth_mm,
        )
        for row in rows
    )  # fmt: skip
    return distinct(sizes)
