"""The clock: one ruler of the same length in every row, with the window's end in its middle."""

from dataclasses import dataclass
from typing import Final

from register.domain.clock import Window, WindowState
from register.domain.drawing import svg
from register.domain.outline import Point

WIDTH: Final = 176.0
HEIGHT: Final = 26.0
_LEFT: Final = 5.0
_LENGTH: Final = WIDTH - 2 * _LEFT - 6
_BASE: Final = 15.0
_LINE: Final = _BASE - 1.5  # height of the elapsed part above the base line

# A week before the window closes the row says so. Common practice (no source).
SOON_DAYS: Final = 7


@dataclass(frozen=True, slots=True)
class ClockFace:
    """A fracture's place in its window (register.domain.clock.window), ready to be drawn."""

    window: Window
    window_days: int

    @property
    def state(self) -> str:
        """The state of the window, or "soon" in its last week."""
        left = self.window.days_left
        if self.window.state is WindowState.INSIDE and left is not None and left <= SOON_DAYS:
            return "soon"
        return self.window.state.value

    @property
    def day_words(self) -> str:
        """The age in words: "day 26", "day 12 to 40", "no clock"."""
        age = self.window.age
        if age is None:
            return "no clock"
        if age.least_days == age.most_days:
            return f"day {age.least_days}"
        return f"day {age.least_days} to {age.most_days}"

    @property
    def left_words(self) -> str:
        """What is left of the window in words."""
        age = self.window.age
        if age is None:
            return self.window.state.words
        about = "" if age.least_days == age.most_days else "at least "
        match self.window.state:
            case WindowState.CLOSED:
                return f"closed {about}{_days(age.least_days - self.window_days)} ago"
            case WindowState.UNSURE:
                return "may have closed"
            case WindowState.LAST_DAY:
                return "may close today" if about else "closes today"
            case _:
                return f"{about}{_days(self.window_days - age.most_days)} left"

    @property
    def title(self) -> str:
        """The accessible name: age and what is left."""
        return f"{self.day_words}, {self.left_words}"


def clock(face: ClockFace) -> str:
    """Return the ruler. It spans twice the window, so the window's end is its middle."""
    return svg.drawing(
        _scale(face),
        _run(face),
        width=WIDTH,
        height=HEIGHT,
        title=f"{face.title}. Window of {_days(face.window_days)}.",
        about="One tick a week; the tall line is the day the window closes.",
        kind="clock",
    )


def _scale(face: ClockFace) -> str:
    """Return base line, week ticks and the end of the window; pale when there is no clock."""
    pen, window_pen = ("quiet", "measure") if face.window.age else ("hair", "hair")
    ticks = [
        svg.line(Point(_x(face, day), _BASE), Point(_x(face, day), _BASE + 4), pen)
        for day in range(0, 2 * face.window_days + 1, 7)
    ]
    end = _x(face, face.window_days)
    base = svg.line(Point(_LEFT, _BASE), Point(_LEFT + _LENGTH, _BASE), pen)
    return base + "".join(ticks) + svg.line(Point(end, 2), Point(end, _BASE + 8), window_pen)


def _run(face: ClockFace) -> str:
    """Return the elapsed part and, at its end, a knob, a band of doubt, or an arrow."""
    age = face.window.age
    if age is None:
        return ""
    hot = face.window.state in (WindowState.CLOSED, WindowState.UNSURE)
    start = _x(face, age.least_days)
    elapsed = svg.line(Point(_LEFT, _LINE), Point(start, _LINE), "run-hot" if hot else "run")
    if age.least_days > 2 * face.window_days:
        return elapsed + _arrow(start)
    if age.least_days != age.most_days:
        return elapsed + _doubt(start, _x(face, age.most_days), "knob-hot" if hot else "knob")
    return elapsed + _knob(face.state, start)


def _knob(state: str, x: float) -> str:
    """Return the end mark: a ring when open, a diamond in the last week, a square when closed."""
    if state == "closed":
        return svg.element("rect", pen="knob-hot", x=x - 4, y=_LINE - 4, width=8, height=8)
    if state in ("soon", "last_day"):
        corners = ((x - 5.5, _LINE), (x, _LINE - 5.5), (x + 5.5, _LINE), (x, _LINE + 5.5))
        return _polygon("knob", corners)
    return svg.element("circle", pen="knob", cx=x, cy=_LINE, r=4.2)


def _doubt(start: float, end: float, pen: str) -> str:
    """Return a pale box from the youngest to the oldest possible age."""
    width = max(end - start, 2.0)
    return svg.element(
        "rect", pen=pen, fill_opacity="0.25", x=start, y=_LINE - 5, width=width, height=10
    )


def _arrow(x: float) -> str:
    """Return the mark of an age beyond the end of the ruler."""
    return _polygon("knob-hot", ((x - 3, _LINE - 5), (x + 6, _LINE), (x - 3, _LINE + 5)))


def _polygon(pen: str, corners: tuple[tuple[float, float], ...]) -> str:
    points = " ".join(f"{svg.number(x)},{svg.number(y)}" for x, y in corners)
    return svg.element("polygon", pen=pen, points=points)


def _x(face: ClockFace, day: int) -> float:
    span = 2 * face.window_days
    return _LEFT + _LENGTH * min(max(day, 0), span) / span


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"
