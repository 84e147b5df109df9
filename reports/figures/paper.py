"""A figure for the PDF: SVG by matplotlib, the same bytes every time, text as text."""

import io
from functools import cache
from pathlib import Path
from typing import Any, Final

import font_source_sans_pro
import matplotlib as mpl
from matplotlib import font_manager
from matplotlib.axes import Axes
from matplotlib.figure import Figure as Canvas

from reports.figures.description import Axis, Figure, Series, Shape
from reports.figures.palette import FONT, HAIR, INK, INKS, MUTED
from reports.wording import fixed

MM: Final = 1 / 25.4  # inches in a millimetre
STYLE: Final[Any] = {
    "svg.fonttype": "none",
    "svg.hashsalt": "vertebral fracture register",
    "font.family": FONT,
    "font.size": 7.5,
    "text.color": INK,
    "text.parse_math": False,
    "axes.edgecolor": INK,
    "axes.labelcolor": MUTED,
    "axes.linewidth": 0.6,
    "axes.unicode_minus": True,
    "xtick.color": MUTED,
    "ytick.color": MUTED,
    "xtick.major.width": 0.5,
    "ytick.major.width": 0.5,
    "xtick.major.size": 2.5,
    "ytick.major.size": 2.5,
    "hatch.linewidth": 0.4,
    "path.simplify": False,
}


def svg(figure: Figure, *, width_mm: float = 108, height_mm: float = 58) -> str:
    """Return the figure as an SVG element of the given size in millimetres."""
    _load_font()
    with mpl.rc_context(STYLE):
        canvas = Canvas(figsize=(width_mm * MM, height_mm * MM), layout="constrained")
        axes = canvas.add_subplot()
        axes.patch.set_gid("plot-area")
        _frame(figure, axes)
        for index, series in enumerate(figure.series):
            _draw(figure, index, series, axes)
        _legend(figure, axes)
        text = io.StringIO()
        canvas.savefig(text, format="svg", metadata={"Date": None, "Title": figure.title})
    drawn = text.getvalue()
    return drawn[drawn.index("<svg") :]


@cache
def _load_font() -> None:
    folder = Path(font_source_sans_pro.font_directory)
    for face in ("Regular", "Semibold"):
        font_manager.fontManager.addfont(folder / f"SourceSansPro-{face}.ttf")


def _frame(figure: Figure, axes: Axes) -> None:
    along, across = (axes.yaxis, axes.xaxis) if figure.lying else (axes.xaxis, axes.yaxis)
    for axis, described in ((along, figure.places), (across, figure.values)):
        axis.set_ticks(
            [tick.at for tick in described.ticks], labels=[tick.label for tick in described.ticks]
        )
        axis.set_label_text(described.title)
    _limit(axes, figure)
    across.grid(True, color=HAIR, linewidth=0.4)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    if figure.lying:
        axes.tick_params(axis="y", length=0, labelcolor=INK)
        axes.spines["left"].set_visible(False)
    _dashed(figure, axes)


def _limit(axes: Axes, figure: Figure) -> None:
    places, values = _range(figure.places), _range(figure.values)
    if figure.lying:
        axes.set_xlim(*values)
        axes.set_ylim(*places[::-1])
    else:
        axes.set_xlim(*places)
        axes.set_ylim(*values)


def _range(axis: Axis) -> tuple[float, float]:
    return axis.low, axis.high


def _dashed(figure: Figure, axes: Axes) -> None:
    line = axes.axvline if figure.lying else axes.axhline
    for reference in figure.dashed:
        line(reference.value, color=MUTED, linewidth=0.8, dashes=(4, 2))
    for reference in figure.lines:
        axes.annotate(
            reference.label,
            (1, reference.value),
            xycoords=("axes fraction", "data"),
            xytext=(4, 0),
            textcoords="offset points",
            va="center",
            color=MUTED,
            annotation_clip=False,
        )


def _draw(figure: Figure, index: int, series: Series, axes: Axes) -> None:
    ink = INKS[index % len(INKS)]
    at = [point.at + figure.shift(index) for point in series.points]
    values = [float("nan") if point.value is None else point.value for point in series.points]
    if series.shape is Shape.BARS:
        _bars(figure, index, at, values, axes)
        return
    _intervals(figure, index, series, axes)
    (line,) = axes.plot(
        *((values, at) if figure.lying else (at, values)),
        color=ink.colour,
        marker=ink.marker,
        markersize=4.5,
        markerfacecolor=ink.colour if ink.filled else "white",
        markeredgewidth=1,
        linewidth=1.2 if series.shape is Shape.LINE else 0,
        label=series.name,
        clip_on=False,
        zorder=3,
    )
    if ink.dash:
        line.set_dashes(ink.dash)
    line.set_gid(f"series-{index}")
    _latest(figure, index, series, axes)


def _intervals(figure: Figure, index: int, series: Series, axes: Axes) -> None:
    ink = INKS[index % len(INKS)]
    for place, point in enumerate(series.points):
        if point.value is None or point.lower is None or point.upper is None:
            continue
        at, ends = [point.at + figure.shift(index)] * 2, [point.lower, point.upper]
        (line,) = axes.plot(
            *((ends, at) if figure.lying else (at, ends)),
            color=ink.colour,
            linewidth=1,
            solid_capstyle="butt",
            zorder=2,
        )
        line.set_gid(f"interval-{index}-{place}")


def _bars(figure: Figure, index: int, at: list[float], values: list[float], axes: Axes) -> None:
    ink = INKS[index % len(INKS)]
    look: dict[str, Any] = {
        "color": ink.colour if ink.filled else "white",
        "edgecolor": ink.colour,
        "hatch": ink.hatch,
        "linewidth": 0.6,
        "label": figure.series[index].name,
    }
    thickness = 0.6 / len(figure.series)
    if figure.lying:
        bars = axes.barh(at, values, height=thickness, **look)
    else:
        bars = axes.bar(at, values, width=thickness, **look)
    for place, patch in enumerate(bars):
        patch.set_gid(f"bar-{index}-{place}")


def _latest(figure: Figure, index: int, series: Series, axes: Axes) -> None:
    latest = series.latest
    if figure.lying or series.shape is not Shape.LINE or latest is None:
        return
    axes.annotate(
        fixed(latest.value, figure.values.digits),
        (latest.at + figure.shift(index), latest.value),
        xytext=(6, _aside(figure, index)),
        textcoords="offset points",
        va="center",
        color=INKS[index % len(INKS)].colour,
        # A dashed line may run where the figure stands.
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1},
        annotation_clip=False,
    )


def _aside(figure: Figure, index: int) -> int:
    """How far, in points, a label stands above or below, so that two do not overlap."""
    return 0 if len(figure.series) == 1 else 5 if index % 2 == 0 else -5


def _legend(figure: Figure, axes: Axes) -> None:
    if len(figure.series) > 1:
        axes.legend(
            loc="lower left",
            bbox_to_anchor=(0, 1),
            ncols=len(figure.series),
            frameon=False,
            borderaxespad=0,
            handlelength=2.6,
            fontsize=7.5,
        )
