"""Pages with made-up pictures, for the viewer alone: no patient, no file, no database.

Addresses of the tests that ask for them by `@pytest.mark.urls`; everything else is the
register's own.
"""

import json
import time
from functools import cache
from typing import Any

import numpy as np
from django.http import HttpRequest, HttpResponse
from django.template import engines
from django.urls import include, path

from register.domain.measuring.points import VIEWS
from register.views.viewer_data import names_of
from tests.phantoms import AxialSlice, LateralBody, Phantom, axial, lateral, paint

LEVELS = ["T12", "L1", "L2"]
SPACING = (0.4, 0.3)  # mm from row to row, from column to column
ROWS, COLUMNS = 400, 300
FILM_ROWS, FILM_COLUMNS = 2500, 2000
SLICES = 40

PAGE = """{% extends "base.html" %}{% load static %}
{% block title %}Picture{% endblock %}
{% block help %}{% endblock %}
{% block head %}<link rel="stylesheet" href="{% static 'register/css/images.css' %}">{% endblock %}
{% block content %}{% include "components/page_header.html" with heading="Picture" %}
<div class="mark-page">{% include "register/images/viewer.html" %}
{% if viewer.view != "look" %}<div class="stack">{% include "register/images/marking_tools.html" %}
<form method="post" action="/" class="sheet">
<textarea name="marks" id="id_marks" aria-label="Marks" hidden>{{ kept }}</textarea>
<label><input type="checkbox" name="mirrored" id="id_mirrored"> Reversed film</label>
</form></div>{% endif %}
</div>{% endblock %}"""


def phantom() -> Phantom:
    """Three bodies, the middle one wedged, in the middle of the small picture."""
    bodies = (
        LateralBody("T12"),
        LateralBody("L1", anterior_mm=16, middle_mm=18),
        LateralBody("L2", anterior_mm=27, middle_mm=26),
    )
    return lateral(*bodies).turned(4).centred(rows=ROWS, columns=COLUMNS, spacing=SPACING)


def frame(number: int, **changed: Any) -> dict[str, Any]:
    """One frame as the page tells it to its script."""
    return {
        "id": number, "url": f"/viewer/pixels/film/{number}", "rows": ROWS, "columns": COLUMNS,
        "row_mm": SPACING[0], "column_mm": SPACING[1], "basis": "calibrated", "aspect": 4 / 3,
        "slope": 1, "intercept": 0, "centre": 2000, "width": 3000, "inverted": False,
        "layout": "uint16", "position": [], "orientation": [], "label": "1 of 1",
    } | changed  # fmt: skip


def marking(view: str = "lateral", **changed: Any) -> dict[str, Any]:
    """What a page for marking tells its script."""
    return {
        "view": view, "level": "L1", "levels": LEVELS, "names": names_of(view),
        "order": list(VIEWS[view]), "frames": [frame(1)], "other_series": [], "marks": {},
        "mirrored": False, "field": "id_marks", "error_mm": 1.2, "start": 0,
    } | changed  # fmt: skip


def slices(name: str, wait_ms: int = 0) -> list[dict[str, Any]]:
    """Sagittal slices 3 mm apart from right to left, or axial ones 3 mm apart downwards."""
    sagittal = name == "sagittal"
    towards = [0, 1, 0, 0, 0, -1] if sagittal else [1, 0, 0, 0, 1, 0]
    return [
        frame(
            n, url=f"/viewer/pixels/{name}/{n}?wait={wait_ms}", rows=128, columns=128, row_mm=1.0,
            column_mm=1.0, aspect=1.0, label=f"{n + 1} of {SLICES}", orientation=towards,
            position=[3.0 * n - 60, -64, 64] if sagittal else [-64, -64, 60 - 3.0 * n],
            centre=None, width=None,
        )
        for n in range(SLICES)
    ]  # fmt: skip


def look(wait_ms: int = 0) -> dict[str, Any]:
    """What a page of a series tells its script: sagittal, with axial slices beside it."""
    return {
        "view": "look", "name": "Sagittal", "frame_of_reference": "1.2", "start": 0,
        "frames": slices("sagittal", wait_ms),
        "other_series": [
            {"name": "Axial", "frame_of_reference": "1.2", "frames": slices("axial", wait_ms)},
            {"name": "Elsewhere", "frame_of_reference": "9.9", "frames": slices("axial", wait_ms)},
        ],
    }  # fmt: skip


def large() -> dict[str, Any]:
    """A film of 2,000 × 2,500 pixels with all points marked."""
    row_mm, column_mm = SPACING[0] * ROWS / FILM_ROWS, SPACING[1] * COLUMNS / FILM_COLUMNS
    drawn = phantom().marks((row_mm, column_mm))
    size = {"rows": FILM_ROWS, "columns": FILM_COLUMNS}
    one = frame(2, **size, row_mm=row_mm, column_mm=column_mm)
    return marking(frames=[one], marks=drawn)


def crosswise() -> dict[str, Any]:
    """An axial slice that is marked."""
    cut = axial(AxialSlice(retropulsion_mm=4)).shifted(45, 80)
    return marking("axial", levels=["L1"], marks=cut.marks(SPACING), frames=[frame(3)])


PAGES = {
    "empty": marking,
    "marked": lambda: marking(marks=phantom().marks(SPACING)),
    "uncalibrated": lambda: marking(
        frames=[frame(1, basis="none", row_mm=None, column_mm=None)],
        marks=phantom().marks(SPACING),
    ),
    "broken": lambda: marking(frames=[frame(1, url="/viewer/pixels/broken/1")]),
    "resumed": marking,
    "axial": crosswise,
    "large": large,
    "series": look,
    "slow": lambda: look(300),
}
# What the server answers for a picture that does not come, before it does.
troubles: list[HttpResponse] = []


def page(request: HttpRequest, name: str) -> HttpResponse:
    """A page of its own for the viewer, without anybody's name."""
    template = engines["django"].from_string(PAGE)
    kept = json.dumps(phantom().marks(SPACING)) if name == "resumed" else ""
    return HttpResponse(template.render({"viewer": PAGES[name](), "kept": kept}, request))


def pixels(request: HttpRequest, name: str, number: int) -> HttpResponse:
    """Stored values; `wait` in ms is the delay of a slow line."""
    time.sleep(int(request.GET.get("wait", 0)) / 1000)
    if name == "broken" and troubles:
        return troubles.pop(0)
    content = slice_of(name, number) if name in ("sagittal", "axial") else film(number)
    # Only decoding tells some of what a picture needs.
    head = {"X-Picture": json.dumps({"inverted": True})} if name == "broken" else {}
    return HttpResponse(content, content_type="application/octet-stream", headers=head)


@cache
def film(number: int) -> bytes:
    """The bodies in grey on a darker ground; number 3 is cut across."""
    drawn = axial(AxialSlice(retropulsion_mm=4)).shifted(45, 80) if number == 3 else phantom()
    small = paint(drawn, rows=ROWS, columns=COLUMNS, spacing=SPACING, noise=0.02)
    if number != 2:
        return small.astype("<u2").tobytes()
    down = np.arange(FILM_ROWS) * ROWS // FILM_ROWS
    across = np.arange(FILM_COLUMNS) * COLUMNS // FILM_COLUMNS
    return small[down[:, None], across[None, :]].astype("<u2").tobytes()


@cache
def slice_of(name: str, number: int) -> bytes:
    """A grey square whose brightness is the number of the slice."""
    values = np.full((128, 128), 100, dtype="<u2")
    values[32:96, 40:88] = 1000 + 50 * number + (7 if name == "axial" else 0)
    return values.tobytes()


urlpatterns = [
    path("viewer/<str:name>", page),
    path("viewer/pixels/<str:name>/<int:number>", pixels),
    path("", include("register.config.urls")),
]
