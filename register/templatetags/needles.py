"""Tags that put planned needles and published widths on a page.

{% planned_needles scene %}
{% pedicle_widths level series measured %}
"""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django import template
from django.utils.safestring import SafeString, mark_safe

from register.domain.approach.widths import Width
from register.domain.drawing.approach import Scene, axial_view, lateral_view
from register.domain.drawing.widths import width_strip

register = template.Library()


@register.inclusion_tag("components/planned_needles.html")
def planned_needles(scene: Scene) -> dict[str, Any]:
    """Both views of the planned needles, and the caption that explains them."""
    # All text inside was escaped by register.domain.drawing.svg.
    views = [mark_safe(axial_view(scene)), mark_safe(lateral_view(scene))]
    return {"views": views, "caption": scene.caption}


@register.simple_tag
def pedicle_widths(
    level: str, series: Sequence[Width], measured: Mapping[str, Decimal]
) -> SafeString:
    """Published widths of one level with those of the plan."""
    return mark_safe(width_strip(level, series, measured))
