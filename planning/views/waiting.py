"""The worklist: every fracture that waits, and the urgent pathway above it."""

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET

from planning.forms.waiting import WaitingFilters
from planning.selectors import waiting as selectors
from planning.selectors.waiting_rows import rows_of
from planning.services.protocols import in_force
from register.permissions import ROLE_RIGHTS, SignedInRequest, needs

PAGE_SIZE = 50


@needs("see_patients")
@require_GET
def waiting(request: SignedInRequest) -> HttpResponse:
    """Show the list in the order of those who wait, filtered by the address."""
    site, today = request.user.site, localdate()
    current = in_force(site, today)
    everything = selectors.waiting_fractures(site, on=today, current=current)
    narrowed = WaitingFilters(request.GET)
    listed = selectors.filtered(selectors.elective(everything), on=today, **narrowed.chosen())
    pages = Paginator(listed, PAGE_SIZE)
    page = pages.get_page(request.GET.get("page"))
    rows, urgent = rows_of(
        list(page),
        list(selectors.urgent(everything)),
        on=today,
        current=current,
        similar=selectors.with_similar_names(everything),
        rights=ROLE_RIGHTS[request.user.role],
    )
    context = {
        "rows": rows,
        "urgent": urgent,
        "instruction": site.urgent_instruction,
        "counts": selectors.counts(everything, on=today),
        "today": today,
        "filter": narrowed,
        "page": page,
        "pages": pages.get_elided_page_range(page.number),
        "query": narrowed.query(),
        "dead": selectors.waiting_although_dead(site),
    }
    return render(request, "planning/waiting.html", context)
