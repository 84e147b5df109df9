"""The clock: one ruler of the same length in every row, with the window's end in its middle."""

from dataclasses import dataclass
from typing import Final

from register.domain.drawing import svg
from register.domain.outline import Point

WIDTH: Final = 176.0
HEIGHT: Final = 26.0
_LEFT: Final = 5.0
_LENGTH: Final = WIDTH - 2 * _LEFT - 6
_BASE: Final = 15.0

# A week before the window closes the row says so. Common practice (no source).
SOON_DAYS: Final = 7


@dataclass(frozen=True, slots=True)
class ClockFace:
    """How old a fracture is, in days, against the window of treatment.

    Give `age_days` for a known day of onset; `youngest_days` and `oldest_days`
    for an uncertain one; none of them when no onset is recorded. The window is
    open up to and including day `window_days`. Raises ValueError for a window
    below one day and for a band given in the wrong order or only half.
    """

    window_days: int
    age_days: int | None = None
    youngest_days: int | None = None
    oldest_days: int | None = None

    def __post_init__(self) -> None:
        if self.window_days < 1:
            raise ValueError(f"A window lasts at least one day, got {self.window_days}.")
        if (self.youngest_days is None) != (self.oldest_days is None):
            raise ValueError("An uncertain age needs its youngest and its oldest day.")
        if self.youngest_days is not None and self.oldest_days is not None:
            if self.age_days is not None:
                raise ValueError("Give either one age or a band, not both.")
            if self.youngest_days > self.oldest_days:
                raise ValueError("The youngest age is above the oldest.")

    @property
    def band(self) -> tuple[int, int] | None:
        """Youngest and oldest possible age; both the same for a known day; None without onset."""
        if self.age_days is not None:
            return self.age_days, self.age_days
        if self.youngest_days is None or self.oldest_days is None:
            return None
        if self.youngest_days == self.oldest_days:
            return self.youngest_days, self.youngest_days
        return self.youngest_days, self.oldest_days

    @property
    def state(self) -> str:
        """One of: no_onset, ahead, open, soon, today, perhaps_closed, closed."""
        if self.band is None:
            return "no_onset"
        youngest, oldest = self.band
        if youngest < 0:
            return "ahead"
        if youngest > self.window_days:
            return "closed"
        if oldest > self.window_days:
            return "perhaps_closed"
        left = self.window_days - oldest
        return "today" if left == 0 else "soon" if left <= SOON_DAYS else "open"

    @property
    def day_words(self) -> str:
        """The age in words: "day 26", "day 12 to 40", "no clock"."""
        if self.band is None:
            return "no clock"
        youngest, oldest = self.band
        return f"day {youngest}" if youngest == oldest else f"day {youngest} to {oldest}"

    @property
    def left_words(self) -> str:
        """What is left of the window in words."""
        if self.band is None:
            return "onset not recorded"
        youngest, oldest = self.band
        certain = youngest == oldest
        most, least = self.window_days - youngest, self.window_days - oldest
        if self.state == "ahead":
            return "onset lies after today"
        if self.state == "closed":
            ago = f"closed {_days(-most)} ago"
            return ago if certain else ago.replace("closed", "closed at least")
        if self.state == "perhaps_closed":
            return "may have closed"
        if certain:
            return "closes today" if least == 0 else f"{_days(least)} left"
        return f"at least {_days(least)} left" if least else "may close today"

    @property
    def title(self) -> str:
        """The accessible name: age and what is left."""
        return f"{self.day_words}, {self.left_words}"


def clock(face: ClockFace) -> str:
    """Return the ruler. It spans twice the window, so the window's end is its middle."""
    parts = [_scale(face)]
    if face.band is not None and face.state != "ahead":
        parts.append(_run(face, *face.band))
    return svg.drawing(
        *parts,
        width=WIDTH,
        height=HEIGHT,
        title=f"{face.title}. Window of {_days(face.window_days)}.",
        about="One tick a week; the tall line is the day the window closes.",
        kind="clock",
    )


def _scale(face: ClockFace) -> str:
    """Return base line, week ticks and the end of the window."""
    span = 2 * face.window_days
    pen = "hair" if face.band is None else "quiet"
    ticks = [
        svg.line(Point(_x(face, day), _BASE), Point(_x(face, day), _BASE + 4), pen)
        for day in range(0, span + 1, 7)
    ]
    end = _x(face, face.window_days)
    window = svg.line(Point(end, 2), Point(end, _BASE + 8), pen if face.band is None else "measure")
    base = svg.line(Point(_LEFT, _BASE), Point(_LEFT + _LENGTH, _BASE), pen)
    return base + "".join(ticks) + window


def _run(face: ClockFace, youngest: int, oldest: int) -> str:
    """Return the elapsed part and, at its end, a knob or the band of doubt."""
    hot = face.state in ("closed", "perhaps_closed")
    pen = "run-hot" if hot else "run"
    start, end = _x(face, youngest), _x(face, oldest)
    elapsed = svg.line(Point(_LEFT, _BASE - 1.5), Point(start, _BASE - 1.5), pen)
    if youngest != oldest:
        return elapsed + _doubt(start, end, "knob-hot" if hot else "knob")
    if youngest > 2 * face.window_days:
        return elapsed + _arrow(start)
    return elapsed + _knob(face.state, start)


def _knob(state: str, x: float) -> str:
    """Return the end mark: a ring when open, a diamond in the last week, a square when closed."""
    y = _BASE - 1.5
    if state == "closed":
        return svg.element("rect", pen="knob-hot", x=x - 4, y=y - 4, width=8, height=8)
    if state in ("soon", "today"):
        points = f"{x - 5.5:.1f},{y} {x:.1f},{y - 5.5} {x + 5.5:.1f},{y} {x:.1f},{y + 5.5}"
        return svg.element("polygon", pen="knob", points=points)
    return svg.element("circle", pen="knob", cx=x, cy=y, r=4.2)


def _doubt(start: float, end: float, pen: str) -> str:
    """Return an open box from the youngest to the oldest possible age."""
    return svg.element(
        "rect",
        pen=pen,
        fill_opacity="0.25",
        x=start,
        y=_BASE - 6.5,
        width=max(end - start, 2.0),
        height=10,
    )


def _arrow(x: float) -> str:
    """Return the mark of an age beyond the end of the ruler."""
    y = _BASE - 1.5
    points = f"{x - 3:.1f},{y - 5} {x + 6:.1f},{y} {x - 3:.1f},{y + 5}"
    return svg.element("polygon", pen="knob-hot", points=points)


def _x(face: ClockFace, day: int) -> float:
    span = 2 * face.window_days
    return _LEFT + _LENGTH * min(max(day, 0), span) / span


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"
