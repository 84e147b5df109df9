"""The spine strip: T1 to L5 as one column of measured bodies and plain ticks."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final

from register.domain.drawing import svg
from register.domain.drawing.vertebra import Body, shapes, tick
from register.domain.levels import TREATABLE_CODES
from register.domain.outline import Point

WIDTH: Final = 232.0
ROW: Final = 28.0  # px; also the height of a link, so above the 24 px a finger needs
_SCALE: Final = 0.86  # px per mm: the tallest plausible body just fits its row
_AXIS: Final = 62.0
_WORDS_AT: Final = 92.0


@dataclass(frozen=True, slots=True)
class StripLevel:
    """One level on the strip.

    `words` say what is known of it ("fracture, day 26"); `href` leads to it,
    blank makes it plain; `current` is the level the page is about.
    """

    body: Body
    words: str = ""
    href: str = ""
    current: bool = False

    @property
    def level(self) -> str:
        """The level code."""
        return self.body.level

    @property
    def name(self) -> str:
        """The accessible name: "L1, fracture, day 26"."""
        known = self.words or ("measured" if self.body.heights.any_height else "not measured")
        return f"{self.level}, {known}"


@dataclass(frozen=True, slots=True)
class Strip:
    """The levels that something is known of, head to tail.

    Raises ValueError for a level outside T1 to L5 or one given twice: a strip
    shows one thing per level, and the caller says which.
    """

    levels: tuple[StripLevel, ...] = field(default=())

    @classmethod
    def of(cls, levels: Iterable[StripLevel]) -> "Strip":
        """Return the strip of these levels, in any order."""
        given = list(levels)
        by_code = {level.level: level for level in given}
        if len(by_code) != len(given):
            raise ValueError("A level stands twice on the strip; merge what is known of it first.")
        if strange := sorted(set(by_code) - set(TREATABLE_CODES)):
            raise ValueError(f"The strip runs from T1 to L5; {', '.join(strange)} is outside.")
        return cls(tuple(by_code[code] for code in TREATABLE_CODES if code in by_code))


def strip(shown: Strip, *, title: str = "Spine, T1 to L5") -> str:
    """Return the strip as a drawing whose known levels are links."""
    known = {level.level: level for level in shown.levels}
    rows = [
        _row(known.get(code, StripLevel(Body(code))), place * ROW)
        for place, code in enumerate(TREATABLE_CODES)
    ]
    return svg.drawing(
        *rows,
        width=WIDTH,
        height=ROW * len(TREATABLE_CODES),
        title=title,
        about="A plain tick is a level that was not measured. Alignment is not drawn. "
        "The same levels stand in the list beside the strip.",
        kind="strip",
        role="group",
    )


def _row(level: StripLevel, top: float) -> str:
    middle = top + ROW / 2
    shape = _shape(level, middle) + _current_bar(level, top)
    label = svg.text(
        8,
        middle + 4.5,
        level.level,
        _label_pen(level),
        font_weight=_weight(level),
        aria_hidden="true",
    )
    said = svg.text(_WORDS_AT, middle + 4.5, level.words, "word-quiet", aria_hidden="true")
    inside = label + shape + (said if level.words else "")
    if not level.href:
        return svg.element("g", inside)
    target = svg.element("rect", pen="target", x=0, y=top, width=WIDTH, height=ROW)
    return svg.element(
        "a",
        svg.words("title", level.name),
        target,
        inside,
        href=level.href,
        class_="strip__link",
        aria_label=level.name,
        aria_current="true" if level.current else None,
    )


def _shape(level: StripLevel, middle: float) -> str:
    drawn = level.body.drawn()
    if drawn is None:
        mark = tick(_AXIS, middle)
        hot = level.body.state == "fracture"
        # A fracture nobody measured is still a fracture: a diamond on the tick.
        return mark + (_diamond(_AXIS, middle) if hot else "")
    scale = min(_SCALE, (ROW - 3) / drawn.height_mm)
    return shapes(svg.placed(drawn, x=_AXIS, y=middle, scale=scale), level.body.state)


def _diamond(x: float, y: float) -> str:
    points = f"{x - 5:g},{y:g} {x:g},{y - 5:g} {x + 5:g},{y:g} {x:g},{y + 5:g}"
    return svg.element("polygon", pen="knob-hot", points=points)


def _current_bar(level: StripLevel, top: float) -> str:
    if not level.current:
        return ""
    return svg.line(Point(1.5, top + 3), Point(1.5, top + ROW - 3), "run")


def _label_pen(level: StripLevel) -> str:
    if level.body.state == "fracture":
        return "word-hot"
    return "word" if level.words or level.body.heights.any_height else "word-quiet"


def _weight(level: StripLevel) -> str:
    return "700" if level.current or level.body.state == "fracture" else "400"
