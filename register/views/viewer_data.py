"""What the page of an image tells its script: frames, scale, window, marks."""

from collections.abc import Iterable
from typing import Any

from django.urls import reverse

from register.domain.measuring.points import VIEWS
from register.models import ImageFrame, ImageSeries


def frame_data(frame: ImageFrame, count: int) -> dict[str, Any]:
    """Return one frame for the script; `count` is how many its series has."""
    return {
        "id": frame.pk,
        "url": reverse("image-pixels", args=[frame.pk]),
        "rows": frame.rows,
        "columns": frame.columns,
        "row_mm": frame.row_mm,
        "column_mm": frame.column_mm,
        "basis": frame.basis,
        "aspect": frame.aspect,
        "slope": frame.slope,
        "intercept": frame.intercept,
        "centre": frame.centre,
        "width": frame.width,
        "inverted": frame.inverted,
        "layout": frame.layout,
        "position": frame.position,
        "orientation": frame.orientation,
        "label": f"{frame.place + 1} of {count}",
        "mark_url": f"{reverse('mark-start', args=[frame.series_id])}?picture={frame.pk}",
    }


def series_data(series: ImageSeries, frames: list[ImageFrame]) -> dict[str, Any]:
    """Return one series with its frames."""
    return {
        "name": str(series),
        "plane": series.plane,
        "frame_of_reference": series.frame_of_reference,
        "frames": [frame_data(frame, len(frames)) for frame in frames],
    }


def look_data(
    series: ImageSeries, frames: list[ImageFrame], others: Iterable[ImageSeries]
) -> dict[str, Any]:
    """Return what the page of a series shows: its frames, and the other series beside it.

    It begins in the middle, where the spine is; the first slices often show none of it.
    """
    return series_data(series, frames) | {
        "view": "look",
        "start": len(frames) // 2,
        "other_series": [
            series_data(other, other.shown)  # type: ignore[attr-defined]
            for other in others
            if other.pk != series.pk
        ],
    }


def mark_data(
    frame: ImageFrame,
    level: str,
    levels: list[str],
    view: str,
    marks: dict[str, Any],
    error_mm: float,
) -> dict[str, Any]:
    """Return what the page of one marked picture shows: the frame, the names and the marks."""
    names = names_of(view)
    shown = frame_data(frame, 1) | {"label": str(frame), "mark_url": ""}
    return {
        "name": str(frame.series),
        "plane": frame.series.plane,
        "frame_of_reference": frame.series.frame_of_reference,
        "view": view,
        "level": level,
        "levels": levels,
        "names": names,
        "order": list(names),
        "frames": [shown],
        "other_series": [],
        "marks": marks,
        "field": "id_marks",
        "error_mm": error_mm,
    }


def names_of(view: str) -> dict[str, str]:
    """Return the marks of a view with their words, in the order in which they are set."""
    return {name: f"{words[0].upper()}{words[1:]}" for name, words in VIEWS[view].items()}
