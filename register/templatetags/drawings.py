"""Tags that put a measured drawing on a page. The drawing itself is made in register.domain.

{% load drawings %}
{% vertebra_glyph measurement level="L1" state="fracture" gave_way=reading.end_plates %}
{% vertebra_large closeup %}
{% spine_strip strip %}
{% clock face %}
{% course course %}
{% timeline timeline %}
"""

from typing import Any

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from register.domain.drawing.clock import ClockFace
from register.domain.drawing.clock import clock as clock_svg
from register.domain.drawing.closeup import Closeup, closeup
from register.domain.drawing.course import Course
from register.domain.drawing.course import course as course_svg
from register.domain.drawing.marks import mark
from register.domain.drawing.strip import Strip, strip
from register.domain.drawing.timeline import Timeline
from register.domain.drawing.timeline import timeline as timeline_svg
from register.domain.drawing.vertebra import Body, glyph
from register.domain.outline import Heights

register = template.Library()


def heights_of(measured: Any) -> Heights:
    """Return the heights of a measurement row, with its marked shape; of nothing without a row."""
    if isinstance(measured, Heights):
        return measured
    if not measured:
        return Heights()
    return Heights(
        anterior_mm=measured.anterior_height_mm,
        middle_mm=measured.middle_height_mm,
        posterior_mm=measured.posterior_height_mm,
        depth_mm=measured.depth_mm,
        marked=measured.outline,
        plus_minus={
            name.partition("_")[0]: error
            for name, error in measured.plus_minus.items()
            if name.endswith("_mm")
        },
    )


@register.simple_tag
def vertebra_glyph(
    measured: Any, level: str = "", state: str = "", gave_way: str = ""
) -> SafeString:
    """A vertebra at table size. `measured` is a Measurement, Heights, or None for not measured."""
    return _drawn(glyph(Body(level, heights_of(measured), gave_way or "", state)))


@register.inclusion_tag("components/vertebra_large.html")
def vertebra_large(shown: Closeup) -> dict[str, Any]:
    """A vertebra between its neighbours with dimension lines, and the caption that explains it."""
    return {"svg": _drawn(closeup(shown)), "caption": shown.caption}


@register.inclusion_tag("components/spine_strip.html")
def spine_strip(shown: Strip) -> dict[str, Any]:
    """The strip with its links, and the same levels as a plain list."""
    return {"svg": _drawn(strip(shown)), "levels": shown.levels}


@register.inclusion_tag("components/clock.html")
def clock(face: ClockFace) -> dict[str, Any]:
    """The ruler and, under it, the same in words."""
    return {"svg": _drawn(clock_svg(face)), "face": face}


@register.simple_tag
def course(shown: Course) -> SafeString:
    """The course of a score."""
    return _drawn(course_svg(shown))


@register.simple_tag(name="mark")
def mark_tag(shape: str) -> SafeString:
    """A mark alone, where the word stands elsewhere."""
    return _drawn(mark(shape))


@register.simple_tag
def timeline(shown: Timeline) -> SafeString:
    """The course of all measures of one treatment on one axis."""
    return _drawn(timeline_svg(shown))


@register.simple_tag
def state(word: str, shape: str, tone: str = "") -> SafeString:
    """A state: its word, a mark of its own shape, and only then a tone (action, attention)."""
    return format_html(
        '<span class="state{}">{} {}</span>',
        f" state--{tone}" if tone else "",
        _drawn(mark(shape)),
        word,
    )


def _drawn(svg: str) -> SafeString:
    # All text inside was escaped by register.domain.drawing.svg.
    return mark_safe(svg)
