"""The few inks of a figure; the same as in the style sheet of the screen (css/base.css).

Series are told apart by marker, filling and dash first, so that a grey print
loses nothing.
"""

from dataclasses import dataclass
from typing import Final

FONT: Final = "Source Sans Pro"
INK: Final = "#1b2430"
MUTED: Final = "#5c6472"
HAIR: Final = "#d6cfbf"
SHEET: Final = "#fffdf7"
ACTION: Final = "#0b5563"
ATTENTION: Final = "#97380f"


@dataclass(frozen=True, slots=True)
class Ink:
    """How one series is drawn, in the words of both drawers."""

    colour: str
    filled: bool
    marker: str
    dash: tuple[float, ...]
    plotly_marker: str
    plotly_dash: str
    hatch: str


INKS: Final = (
    Ink(ACTION, True, "o", (), "circle", "solid", ""),
    Ink(INK, False, "s", (5, 2), "square-open", "dash", "////"),
    Ink(ATTENTION, True, "^", (1, 1.5), "triangle-up", "dot", "...."),
    Ink(MUTED, False, "D", (5, 1.5, 1, 1.5), "diamond-open", "dashdot", "xxxx"),
)
