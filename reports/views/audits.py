"""Quarters, the draft of an audit on screen, and issued audits."""

from datetime import date

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET, require_http_methods

from register.paper import pdf_response
from register.permissions import SignedInRequest, may, needs
from register.views.saving import posted, save
from reports import selectors, services
from reports.audits.screen import screen_context
from reports.audits.spec import quarter_days
from reports.forms import IssueForm
from reports.models import AuditReport


@needs("see_audit")
@require_GET
def audits(request: SignedInRequest) -> HttpResponse:
    """Every quarter with its procedures and the audits issued for it."""
    context = {
        "quarters": selectors.quarters(request.user.site, today=localdate()),
        "may_issue": may(request.user, "issue_audit"),
    }
    return render(request, "reports/audits.html", context)


@needs("see_audit")
@require_GET
def audit_quarter(request: SignedInRequest, year: int, number: int) -> HttpResponse:
    """The draft of a quarter: the same numbers from the same build as the PDF."""
    first, last = _days(year, number)
    today = localdate()
    made = services.audit_make(  # a quarter that still runs ends today: nothing is due tomorrow
        site=request.user.site, first_day=first, last_day=min(last, today), cut_off=today
    )
    context = screen_context(made.report) | {
        "year": year,
        "number": number,
        "is_running": last >= today,
        "may_issue": may(request.user, "issue_audit"),
        "issued": _issued(request, first, last),
    }
    return render(request, "reports/audit_quarter.html", context)


@needs("issue_audit")
@require_http_methods(["GET", "POST"])
def audit_issue(request: SignedInRequest, year: int, number: int) -> HttpResponse:
    """Say what issuing freezes; POST freezes a finished quarter with its rows and its PDF."""
    first, last = _days(year, number)
    if last >= localdate():
        messages.error(
            request, "This quarter is still running. It can be issued after its last day."
        )
        return redirect("audit-quarter", year, number)
    form = IssueForm(posted(request))
    if form.is_valid():
        report = save(
            request,
            form,
            f"Audit of quarter {number} of {year} issued and frozen.",
            lambda: services.audit_issue(
                site=request.user.site,
                first_day=first,
                last_day=last,
                cut_off=localdate(),
                user=request.user,
                comment=form.cleaned_data["comment"],
            ),
        )
        is_new = isinstance(report, AuditReport)
        return redirect("audit-report", report.pk) if is_new else redirect("audits")
    issued = _issued(request, first, last)
    context = {"form": form, "year": year, "number": number, "issued": issued}
    context |= {"first": first, "last": last}
    status = 422 if form.is_bound else 200
    return render(request, "reports/audit_issue.html", context, status=status)


@needs("see_audit")
@require_GET
def audit_report(request: SignedInRequest, report_id: int) -> HttpResponse:
    """One issued audit: what it was made from, and whether it can be redone."""
    report = _report(request, report_id)
    redone = services.audit_redo(report) if request.GET.get("redo") == "1" else None
    may_issue = may(request.user, "issue_audit")
    context = {"report": report, "redone": redone, "may_issue": may_issue}
    return render(request, "reports/audit_report.html", context)


@needs("see_audit")
@require_GET
def audit_pdf(request: SignedInRequest, report_id: int) -> HttpResponse:
    """The stored PDF, byte for byte."""
    report = _report(request, report_id)
    name = f"audit-{report.first_day:%Y-%m-%d}-{report.last_day:%Y-%m-%d}.pdf"
    return pdf_response(bytes(report.pdf), name)


@needs("issue_audit")
@require_GET
def audit_rows(request: SignedInRequest, report_id: int) -> HttpResponse:
    """The pseudonymised input rows of an issued audit."""
    report = _report(request, report_id)
    try:
        text = services.frozen_rows(report)
    except services.RowsDamaged as damage:
        messages.error(request, f"{damage} They are not handed out; tell the administrator.")
        return redirect("audit-report", report.pk)
    response = HttpResponse(text, content_type="application/json")
    response["Content-Disposition"] = f'attachment; filename="audit-rows-{report.pk}.json"'
    return response


def _issued(request: SignedInRequest, first: date, last: date) -> list[AuditReport]:
    """The audits issued for exactly these days."""
    rows = selectors.issued_reports(request.user.site)
    return [row for row in rows if (row.first_day, row.last_day) == (first, last)]


def _days(year: int, number: int) -> tuple[date, date]:
    """The days of a quarter that has begun; 404 for any other."""
    if year < 2000 or number not in (1, 2, 3, 4) or year > localdate().year:
        raise Http404
    first, last = quarter_days(year, number)
    if first > localdate():
        raise Http404
    return first, last


def _report(request: SignedInRequest, report_id: int) -> AuditReport:
    rows = AuditReport.objects.live().select_related("issued_by", "protocol", "site")
    return get_object_or_404(rows, pk=report_id, site=request.user.site)
