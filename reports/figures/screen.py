"""A figure for the browser: the JSON that plotly.js draws, built from plain lists with None."""

import html
import json
from typing import Any, Final

from reports.figures.description import Axis, Figure, Point, Reference, Series, Shape
from reports.figures.palette import FONT, HAIR, INK, INKS, MUTED, Ink
from reports.wording import fixed

ROOM_FOR_NAMES: Final = 140  # px beside the plot for the names of dashed lines


def plotly(figure: Figure) -> dict[str, Any]:
    """Return data and layout. A gap is None and stays a gap; nothing is joined across it."""
    traces = [_trace(figure, place, series) for place, series in enumerate(figure.series)]
    places, values = _axis(figure.places), _axis(figure.values)
    if figure.lying:
        places["range"] = places["range"][::-1]
    return {
        "data": traces,
        "layout": {
            "font": {"family": f"{FONT}, sans-serif", "size": 14, "color": INK},
            "margin": {
                "l": 150 if figure.lying else 60,
                "r": ROOM_FOR_NAMES if figure.lines else 24,
                "t": 30,
                "b": 56,
            },
            "showlegend": len(figure.series) > 1,
            "legend": {"orientation": "h", "x": 0, "y": 1.02, "yanchor": "bottom"},
            "barmode": "group",
            "hovermode": "closest",
            "xaxis": values if figure.lying else places,
            "yaxis": places if figure.lying else values,
            "shapes": _shapes(figure),
            "annotations": _annotations(figure),
        },
    }


def plotly_json(figure: Figure) -> str:
    """Return the figure as JSON text; NaN or infinity is an error, never written."""
    return json.dumps(plotly(figure), allow_nan=False, ensure_ascii=False)


def plain(label: str) -> str:
    """Return a label that plotly.js shows as it is; it would read tags and entities otherwise."""
    return html.escape(label, quote=False)


def _trace(figure: Figure, index: int, series: Series) -> dict[str, Any]:
    ink = INKS[index % len(INKS)]
    at = [point.at + figure.shift(index) for point in series.points]
    values = [point.value for point in series.points]
    trace: dict[str, Any] = {
        "name": plain(series.name),
        "x": values if figure.lying else at,
        "y": at if figure.lying else values,
        "text": [plain(point.place) for point in series.points],
        "error_x" if figure.lying else "error_y": _limits(series.points, ink),
        "hovertemplate": "%{text}: %{" + ("x" if figure.lying else "y") + "}<extra></extra>",
    }
    return trace | (_bars(figure, ink) if series.shape is Shape.BARS else _line(series, ink))


def _line(series: Series, ink: Ink) -> dict[str, Any]:
    return {
        "type": "scatter",
        "mode": "lines+markers" if series.shape is Shape.LINE else "markers",
        "connectgaps": False,
        "cliponaxis": False,  # a point at 100 % is a whole point
        "line": {"color": ink.colour, "dash": ink.plotly_dash, "width": 2},
        "marker": {"color": ink.colour, "symbol": ink.plotly_marker, "size": 9},
    }


def _bars(figure: Figure, ink: Ink) -> dict[str, Any]:
    return {
        "type": "bar",
        "orientation": "h" if figure.lying else "v",
        "width": 0.6 / len(figure.series),
        "textposition": "none",  # the name of the place is for the pointer only
        "marker": {"color": ink.colour, "pattern": {"shape": "/" if ink.hatch else ""}},
    }


def _limits(points: tuple[Point, ...], ink: Ink) -> dict[str, Any]:
    """Distances of the limits from the value; None where a point has no interval."""
    up = [None if p.upper is None or p.value is None else p.upper - p.value for p in points]
    down = [None if p.lower is None or p.value is None else p.value - p.lower for p in points]
    return {
        "type": "data",
        "symmetric": False,
        "array": up,
        "arrayminus": down,
        "color": ink.colour,
        "thickness": 1.4,
        "width": 0,
        "visible": any(distance is not None for distance in up),
    }


def _axis(axis: Axis) -> dict[str, Any]:
    return {
        "title": {"text": plain(axis.title)},
        "range": [axis.low, axis.high],
        "tickvals": [tick.at for tick in axis.ticks],
        "ticktext": [plain(tick.label) for tick in axis.ticks],
        "zeroline": False,
        "gridcolor": HAIR,
        "linecolor": INK,
        "fixedrange": True,
    }


def _shapes(figure: Figure) -> list[dict[str, Any]]:
    across, along = ("x", "y") if figure.lying else ("y", "x")
    return [
        {
            "type": "line",
            f"{along}ref": "paper",
            f"{along}0": 0,
            f"{along}1": 1,
            f"{across}0": line.value,
            f"{across}1": line.value,
            "line": {"color": MUTED, "width": 1, "dash": "dash"},
        }
        for line in figure.dashed
    ]


def _annotations(figure: Figure) -> list[dict[str, Any]]:
    """The latest value of every upright line, printed beside it, and names of dashed lines."""
    if figure.lying:
        return []
    notes: list[dict[str, Any]] = [_name_of(line) for line in figure.lines]
    for index, series in enumerate(figure.series):
        latest = series.latest
        if series.shape is Shape.LINE and latest is not None and latest.value is not None:
            notes.append(
                {
                    "x": latest.at + figure.shift(len(figure.series) - 1),  # right of all marks
                    "y": latest.value,
                    "text": fixed(latest.value, figure.values.digits),
                    "showarrow": False,
                    "xanchor": "left",
                    "xshift": 8,
                    "yshift": 0 if len(figure.series) == 1 else 8 if index % 2 == 0 else -8,
                    "font": {"color": INKS[index % len(INKS)].colour},
                }
            )
    return notes


def _name_of(line: Reference) -> dict[str, Any]:
    return {
        "xref": "paper",
        "x": 1,
        "xanchor": "left",
        "xshift": 6,
        "y": line.value,
        "text": plain(line.label),
        "showarrow": False,
        "font": {"color": MUTED},
    }
