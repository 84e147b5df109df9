"""How well readings of the same thing agree in this department."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET

from register.permissions import SignedInRequest, needs
from register.selectors.protocols import values_in_force
from reports.figures.screen import plotly
from reports.repeat_readings import repeat_readings
from reports.repeat_words import RULE, figure, overview, pairs_table, told


@needs("see_audit")
@require_GET
def repeat_readings_page(request: SignedInRequest) -> HttpResponse:
    """Every measure in one table, and one of them drawn; names nobody, neither patient nor reader.

    `measure`, `kind` and `pairs=blinded` in the address choose; anything else shows all.
    """
    today = localdate()
    page = repeat_readings(
        request.user.site,
        values_in_force(site=request.user.site, on=today),
        until=today,
        measure=request.GET.get("measure", ""),
        kind=request.GET.get("kind", ""),
        blinded_only=request.GET.get("pairs") == "blinded",
    )
    context = {"page": page, "rule": RULE, "table": overview(page)}
    if page.chosen is not None:
        drawn = figure(page.chosen)
        context |= {
            "told": told(page.chosen),
            "drawn": drawn,
            "chart": None if drawn.is_empty else plotly(drawn),
            "numbers": pairs_table(page.chosen),
        }
    return render(request, "reports/repeat_readings.html", context)
