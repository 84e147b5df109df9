"""What the audit pages read."""

from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from register.models import Procedure, Site
from reports.audits.spec import quarter_days
from reports.models import AuditReport


@dataclass(frozen=True, slots=True)
class Quarter:
    """A calendar quarter with what there is of it."""

    year: int
    number: int
    first_day: date
    last_day: date
    procedures: int
    issued: tuple[AuditReport, ...]
    is_running: bool


def issued_reports(site: Site) -> QuerySet[AuditReport]:
    """Issued audits of a site, newest first, without their heavy columns."""
    rows = AuditReport.objects.live().filter(site=site).defer("rows", "pdf")
    return rows.select_related("issued_by").order_by("-last_day", "-issued_at", "-pk")


def quarters(site: Site, *, today: date) -> list[Quarter]:
    """The running quarter and those before it, back to the first procedure; newest first.

    Counts the procedures that an audit counts; none at all gives no quarter.
    """
    rows = Procedure.objects.live().filter(
        patient__site=site, patient__voided_at=None, performed_on__lte=today
    )
    days = list(rows.order_by("performed_on").values_list("performed_on", flat=True))
    reports = list(issued_reports(site))
    begun = min([*days[:1], *(report.first_day for report in reports)], default=None)
    found = []
    year, number = today.year, (today.month - 1) // 3 + 1
    while begun is not None and (last := quarter_days(year, number)[1]) >= begun:
        first = quarter_days(year, number)[0]
        found.append(
            Quarter(
                year=year,
                number=number,
                first_day=first,
                last_day=last,
                procedures=sum(first <= day <= last for day in days),
                issued=tuple(r for r in reports if (r.first_day, r.last_day) == (first, last)),
                is_running=last >= today,
            )
        )
        year, number = (year, number - 1) if number > 1 else (year - 1, 4)
    return found
