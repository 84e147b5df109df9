"""The theatre log compared with the register, and what a person says about one line."""

from dataclasses import dataclass
from typing import Any, Final

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from register.domain.names import similar_names
from register.imports.theatre_log.matching import NEAR_DAYS, Match, Outcome
from register.models import Patient, Procedure, TheatreLogEntry
from register.permissions import SignedInRequest, may, needs
from register.reads import keep_reason, page_name, reason_given
from register.selectors import theatre_log as selectors
from register.selectors.identity import identity_for
from register.services import theatre_log as writing
from register.services.access import access_log
from register.services.editing import EditConflict
from register.views.saving import save
from register.views.sent import page_asked_for, version_sent
from reports.theatre_log import PARTS, Period, compare, logged_quarters, quarter_with
from reports.theatre_log_forms import LinkForm, NamesForm, NotOursForm, PeriodForm

ROWS: Final = 100
QUARTERS: Final = 8


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the log, or one procedure that it does not name, as the page places it."""

    line: TheatreLogEntry | None
    procedure: Procedure | None
    match: Match | None
    is_similar: bool


@needs("compare_log")
@require_GET
def theatre_log(request: SignedInRequest) -> HttpResponse:
    """Counts of a period, and one of its four lists."""
    quarters = logged_quarters(request.user.site)
    form = PeriodForm(request.GET if "first_day" in request.GET else None)
    period = quarters[0].period if quarters else quarter_with(localdate())
    if form.is_bound and not form.is_valid():
        return render(request, "reports/theatre_log.html", {"form": form}, status=422)
    if form.is_bound:
        period = form.period
    else:
        form = PeriodForm(initial={"first": period.first, "last": period.last})
    context = {
        "form": form,
        "quarters": quarters[:QUARTERS],
        "compared": compare(request.user.site, period),
        "named": _sees_names(request),
        "record": "procedure" if may(request.user, "see_patients") else "patient-record",
    }
    context |= _list(request, period)
    return render(request, "reports/theatre_log.html", context)


@needs("compare_log")
@require_http_methods(["GET", "POST"])
def theatre_log_line(request: SignedInRequest, line_id: int) -> HttpResponse:
    """One line: which procedure it is, or why it is none; POST says so."""
    line = _line(request, line_id)
    if line.found_as is None and not _sees_names(request):
        return _ask(request.get_full_path())
    candidates = selectors.candidates_for(line)
    link = LinkForm(_sent(request, "link"), line=line, candidates=candidates)
    apart = NotOursForm(_sent(request, "apart"), line=line)
    if _said(request, line, link, apart):
        return _back(request, line)
    return _line_page(request, _line(request, line_id), link, apart)


@needs("compare_log", names_nobody=True)
@require_POST
def theatre_log_back(request: SignedInRequest, line_id: int) -> HttpResponse:
    """Take back what was found or said about a line; it is open again."""
    line = _line(request, line_id)
    try:
        writing.line_take_back(line=line, expected_version=version_sent(request), user=request.user)
    except EditConflict as error:
        messages.error(request, str(error))
        return redirect("theatre-log-line", line.pk)
    messages.success(request, "The line is open again.")
    return _back(request, line)


@needs("compare_log", names_nobody=True)
@require_POST
def theatre_log_again(request: SignedInRequest) -> HttpResponse:
    """Find the open lines of a period whose procedure was recorded since."""
    form = PeriodForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Say which days are meant, then look again.")
        return redirect("theatre-log")
    period = form.period
    try:
        found = writing.lines_look_again(
            site=request.user.site, first=period.first, last=period.last, user=request.user
        )
    except writing.LinesMoved:
        messages.error(
            request, "Somebody settled one of these lines in this moment. Nothing was changed: "
            "look again."
        )  # fmt: skip
    else:
        messages.success(request, f"Found now: {found}.")
    return HttpResponseRedirect(f"{reverse('theatre-log')}?{period.query}")


@needs("compare_log", names_nobody=True)
@require_http_methods(["GET", "POST"])
def theatre_log_names(request: SignedInRequest) -> HttpResponse:
    """Ask why the names of the log are looked at; the reason holds until signing out."""
    form = NamesForm(request.POST or None)
    if form.is_valid():
        keep_reason(request, "theatre-log", form.cleaned_data["reason"])
        return HttpResponseRedirect(page_asked_for(request, reverse("theatre-log")))
    status = 422 if form.is_bound else 200
    return render(request, "reports/theatre_log_names.html", {"form": form}, status=status)


def _list(request: SignedInRequest, period: Period) -> dict[str, Any]:
    """Return the rows of the list that the address asks for, as the page places them."""
    shown = request.GET.get("show", "")
    shown = shown if shown in dict(PARTS) else "open"
    site, days = request.user.site, (period.first, period.last)
    reader = {
        "open": selectors.open_lines,
        "found": selectors.found_lines,
        "not-ours": selectors.not_ours_lines,
        "unnamed": selectors.unnamed_procedures,
    }[shown]
    records: list[Any] = list(reader(site, *days))
    matches = selectors.matches_of(site, records) if shown == "open" else {}
    page = Paginator(records, ROWS).get_page(request.GET.get("page"))
    return {
        "shown": shown,
        "page": page,
        "pages": page.paginator.get_elided_page_range(page.number),
        "query": f"{period.query}&show={shown}&",
        "rows": _rows(page.object_list, matches),
        "recorded_since": sum(
            matches[line.pk].outcome is Outcome.FOUND and not line.is_left_open for line in records
        )
        if matches
        else 0,
    }


def _rows(records: Any, matches: dict[int, Match]) -> list[Row]:
    people = [(one.pk, *_names(one)) for one in records]
    alike = similar_names(person for person in people if person[1])
    return [
        Row(
            line=one if isinstance(one, TheatreLogEntry) else None,
            procedure=one if isinstance(one, Procedure) else one.procedure,
            match=matches.get(one.pk),
            is_similar=one.pk in alike,
        )
        for one in records
    ]


def _names(one: TheatreLogEntry | Procedure) -> tuple[str, str]:
    who: Any = one.patient if isinstance(one, Procedure) else one
    return who.family_name, who.given_name


def _said(
    request: SignedInRequest, line: TheatreLogEntry, link: LinkForm, apart: NotOursForm
) -> Any:
    """Save what was sent with one of the two buttons; false when nothing was saved."""
    given: dict[str, Any] = {"line": line, "user": request.user}
    if link.is_valid():
        given |= {"expected_version": link.cleaned_data["version"], "procedure": link.chosen}
        words = "Saved: the line is this procedure."
        return save(request, link, words, lambda: writing.line_link(**given))
    if apart.is_valid():
        given |= {
            "expected_version": apart.cleaned_data["version"],
            "because": apart.cleaned_data["because"],
        }
        words = "Saved: the line is none of this register."
        return save(request, apart, words, lambda: writing.line_set_apart(**given))
    return False


def _line_page(
    request: SignedInRequest, line: TheatreLogEntry, link: LinkForm, apart: NotOursForm
) -> HttpResponse:
    """Answer with the page of one line; a look at a known patient is noted under that patient."""
    found = line.found_as
    match = None if found else selectors.matches_of(request.user.site, [line])[line.pk]
    patient = found.patient if found else None
    if match and match.patient_id:
        patient = Patient.objects.get(pk=match.patient_id)
        access_log(
            user=request.user,
            patient=patient,
            page=page_name(request, patient),
            reason=reason_given(request, None),
        )
    context = {
        "line": line,
        "found": found,
        "match": match,
        "identity": identity_for(patient) if patient else None,
        "near_days": NEAR_DAYS,
        "forms": [link, apart],
        "link": link,
        "apart": apart,
        "has_errors": bool(link.errors or apart.errors),
        "back": f"{reverse('theatre-log')}?{request.GET.urlencode() or _quarter(line)}",
        "query": request.GET.urlencode(),
        "record": "procedure" if may(request.user, "see_patients") else "patient-record",
    }
    status = 422 if link.is_bound or apart.is_bound else 200
    return render(request, "reports/theatre_log_line.html", context, status=status)


def _line(request: SignedInRequest, line_id: int) -> TheatreLogEntry:
    """Return a live line of the person's own site."""
    rows = TheatreLogEntry.objects.live().select_related(
        "site", "settled_by", "procedure__patient__site", "procedure__technique"
    )
    return get_object_or_404(rows, pk=line_id, site=request.user.site)


def _sees_names(request: SignedInRequest) -> bool:
    """Whether names may be shown: to those who may see patients, or who said why."""
    return may(request.user, "see_patients") or bool(reason_given(request, None))


def _ask(wanted: str) -> HttpResponse:
    return HttpResponseRedirect(f"{reverse('theatre-log-names')}?{urlencode({'next': wanted})}")


def _back(request: SignedInRequest, line: TheatreLogEntry) -> HttpResponse:
    """Lead to the list that the person came from; without one to the quarter of the line."""
    query = request.GET.urlencode() or _quarter(line)
    return HttpResponseRedirect(f"{reverse('theatre-log')}?{query}")


def _quarter(line: TheatreLogEntry) -> str:
    return quarter_with(line.performed_on).query


def _sent(request: SignedInRequest, button: str) -> Any:
    """Return what was sent with one of the buttons; None for a form that was not."""
    return request.POST if request.method == "POST" and button in request.POST else None
