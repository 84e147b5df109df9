"""The few SVG elements that the drawings are made of, and the pens they are drawn with."""

from collections.abc import Iterable
from html import escape
from typing import Final

from register.domain.outline import Edge, Outline, Point

INK: Final = "#1b2430"
MUTED: Final = "#5c6472"
HAIR: Final = "#d6cfbf"
SHEET: Final = "#fffdf7"
ACTION: Final = "#0b5563"
ATTENTION: Final = "#97380f"
TINT: Final = "#f4e1d6"
WASH: Final = "#f0eadb"
FONT: Final = "Source Sans Pro, sans-serif"

# A pen is a class for the screen and the same look as plain attributes for paper.
PENS: Final[dict[str, dict[str, str]]] = {
    "edge": {"fill": "none", "stroke": INK, "stroke-width": "1.4"},
    "edge-guess": {
        "fill": "none",
        "stroke": INK,
        "stroke-width": "1.2",
        "stroke-dasharray": "3 2.5",
    },
    "hot": {"fill": "none", "stroke": ATTENTION, "stroke-width": "2"},
    "hot-guess": {
        "fill": "none",
        "stroke": ATTENTION,
        "stroke-width": "1.8",
        "stroke-dasharray": "3 2.5",
    },
    "quiet": {"fill": "none", "stroke": MUTED, "stroke-width": "1"},
    "quiet-guess": {
        "fill": "none",
        "stroke": MUTED,
        "stroke-width": "1",
        "stroke-dasharray": "3 2.5",
    },
    "expected": {
        "fill": "none",
        "stroke": MUTED,
        "stroke-width": "1",
        "stroke-dasharray": "9 3 2 3",
    },
    "body": {"fill": SHEET, "stroke": "none"},
    "body-hot": {"fill": TINT, "stroke": "none"},
    "tick": {"fill": "none", "stroke": MUTED, "stroke-width": "1.6"},
    "hair": {"fill": "none", "stroke": HAIR, "stroke-width": "1"},
    "mark": {"fill": SHEET, "stroke": ATTENTION, "stroke-width": "1.6"},
    "cement": {"fill": MUTED, "stroke": "none"},
    "measure": {"fill": "none", "stroke": INK, "stroke-width": "1"},
    "run": {"fill": "none", "stroke": ACTION, "stroke-width": "3"},
    "run-hot": {"fill": "none", "stroke": ATTENTION, "stroke-width": "3"},
    "knob": {"fill": SHEET, "stroke": ACTION, "stroke-width": "2"},
    "knob-hot": {"fill": ATTENTION, "stroke": ATTENTION, "stroke-width": "1.5"},
    "dot": {"fill": INK, "stroke": "none"},
    "ring": {"fill": SHEET, "stroke": INK, "stroke-width": "1.6"},
    "band": {"fill": WASH, "stroke": "none"},
    "word": {"fill": INK, "font-family": FONT, "font-size": "13"},
    "word-quiet": {"fill": MUTED, "font-family": FONT, "font-size": "13"},
    "word-hot": {"fill": ATTENTION, "font-family": FONT, "font-size": "13", "font-weight": "600"},
    "sign": {"fill": INK, "stroke": "none"},
    "sign-line": {"fill": "none", "stroke": INK, "stroke-width": "1.8"},
    "target": {"fill": "none", "stroke": "none", "pointer-events": "all"},
}


def number(value: float) -> str:
    """Return a coordinate with at most two decimals and no useless zeros, never "-0"."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def element(name: str, *children: str, pen: str = "", **attributes: object) -> str:
    """Return one element. Children are finished markup; attribute values are escaped.

    Underscores in attribute names become hyphens and a trailing one is dropped,
    so `class_` and `text_anchor` can be written. None leaves an attribute out.
    """
    written: dict[str, object] = {}
    if pen:
        written |= {"class": f"d-{pen}", **PENS[pen]}
    for key, value in attributes.items():
        if value is not None:
            written[key.rstrip("_").replace("_", "-")] = value
    text = "".join(
        f' {key}="{number(value) if isinstance(value, float) else escape(str(value))}"'
        for key, value in written.items()
    )
    inside = "".join(children)
    return f"<{name}{text}>{inside}</{name}>" if inside else f"<{name}{text}/>"


def words(name: str, text: str) -> str:
    """Return an element that holds text, escaped."""
    return element(name, escape(text, quote=False))


def drawing(
    *shapes: str,
    width: float,
    height: float,
    title: str,
    about: str = "",
    kind: str,
    role: str = "img",
) -> str:
    """Return a whole drawing with its accessible name (`title`) and description (`about`).

    `kind` becomes the class `drawing--kind`. A drawing that holds links has the
    role "group", because everything inside an "img" is hidden from assistive tools.
    """
    named = words("title", title) + (words("desc", about) if about else "")
    return element(
        "svg",
        named,
        *shapes,
        class_=f"drawing drawing--{kind}",
        viewBox=f"0 0 {number(width)} {number(height)}",
        width=number(width),
        height=number(height),
        role=role,
        xmlns="http://www.w3.org/2000/svg",
    )


def line(one: Point, other: Point, pen: str) -> str:
    """Return a straight line."""
    return element("line", pen=pen, x1=one.x, y1=one.y, x2=other.x, y2=other.y)


def text(x: float, y: float, content: str, pen: str = "word", **attributes: object) -> str:
    """Return one line of text; `y` is its baseline."""
    return element("text", escape(content, quote=False), pen=pen, x=x, y=y, **attributes)


def placed(drawn: Outline, *, x: float, y: float, scale: float) -> Outline:
    """Return the outline in px: scaled, and moved so that its centre is at x, y."""
    return drawn.moved(lambda p: Point(x + scale * p.x, y + scale * p.y))


def stroke_path(edges: Iterable[Edge], pen: str) -> str:
    """Return the edges as drawn lines; those that were not measured use the dashed pen."""
    lines = ((edge, pen if edge.measured else f"{pen}-guess") for edge in edges)
    return "".join(
        element(
            "path", pen=chosen, d=f"M{_at(edge.points[0])}{_onwards(edge)}", stroke_linecap="round"
        )
        for edge, chosen in lines
    )


def ring_path(ring: tuple[Edge, Edge], pen: str) -> str:
    """Return the closed shape, to be filled."""
    upper, lower = ring
    start = f"M{_at(upper.points[0])}{_onwards(upper)}"
    return element("path", pen=pen, d=f"{start}L{_at(lower.points[0])}{_onwards(lower)}Z")


def _at(point: Point) -> str:
    return f"{number(point.x)} {number(point.y)}"


def _onwards(edge: Edge) -> str:
    """Return the path commands from the first point of an edge to its last."""
    if not edge.curved:
        return "".join(f"L{_at(point)}" for point in edge.points[1:])
    start, through, end = edge.points
    # The control point that makes a quadratic curve pass through the middle point.
    control = Point(2 * through.x - (start.x + end.x) / 2, 2 * through.y - (start.y + end.y) / 2)
    return f"Q{_at(control)} {_at(end)}"
