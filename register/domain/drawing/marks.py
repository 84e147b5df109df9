"""The small marks beside a state word, told apart by shape alone."""

from typing import Final

from register.domain.drawing import svg
from register.domain.outline import Point

SIZE: Final = 14.0
_C: Final = SIZE / 2

SHAPES: Final = (
    "full",
    "open",
    "half",
    "question",
    "cross",
    "square",
    "diamond",
    "triangle",
    "dash",
)


def mark(shape: str) -> str:
    """Return a mark of 14 px. Hidden from assistive tools: the word beside it says the state.

    Raises ValueError for a shape that is not one of SHAPES.
    """
    if shape not in SHAPES:
        raise ValueError(f"{shape!r} is not a mark; use one of {', '.join(SHAPES)}.")
    return svg.element(
        "svg",
        _inside(shape),
        class_="mark",
        viewBox=f"0 0 {SIZE:g} {SIZE:g}",
        width=f"{SIZE:g}",
        height=f"{SIZE:g}",
        aria_hidden="true",
        xmlns="http://www.w3.org/2000/svg",
    )


def _inside(shape: str) -> str:
    ring = svg.element("circle", pen="sign-line", cx=_C, cy=_C, r=5)
    match shape:
        case "full":
            return svg.element("circle", pen="sign", cx=_C, cy=_C, r=5.5)
        case "half":
            return ring + svg.element("path", pen="sign", d="M7 2A5 5 0 0 0 7 12Z")
        case "question":
            return svg.element(
                "path",
                pen="sign-line",
                d="M4 4.6Q4.2 1.8 7 1.8T10 4.6Q10 6.6 7 7.4V9.2M7 11.2V12.6",
            )
        case "cross":
            return svg.element("path", pen="sign-line", d="M3 3L11 11M11 3L3 11")
        case "square":
            return svg.element("rect", pen="sign", x=2, y=2, width=10, height=10)
        case "diamond":
            return svg.element("polygon", pen="sign-line", points="7,1.5 12.5,7 7,12.5 1.5,7")
        case "triangle":
            return svg.element("polygon", pen="sign", points="7,1.5 13,12.5 1,12.5")
        case "dash":
            return svg.line(Point(2.5, _C), Point(11.5, _C), "sign-line")
    return ring
