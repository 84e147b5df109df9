"""Making and issuing audits. An issued audit is frozen with its own input rows and its PDF."""

import gzip
import hashlib
import json
import subprocess
import zlib
from dataclasses import dataclass
from datetime import date
from functools import cache

from django.conf import settings
from django.utils import timezone

from planning.models import Assessment
from planning.services.protocols import in_force
from register.history import acting
from register.models import Protocol, Site, User
from register.paper import pdf
from register.selectors.measurement_error import own_bounds
from reports.audits.fetch import fetch
from reports.audits.printing import pdf_context
from reports.audits.quarter import Report, build
from reports.audits.rows import Rows, rows_from_json, rows_to_json
from reports.audits.spec import Spec
from reports.models import AuditReport

TEMPLATE = "reports/pdf/audit.html"


@dataclass(frozen=True, slots=True)
class Made:
    """An audit that was built but not issued: what was asked, the rows, the numbers."""

    protocol: Protocol
    rows: Rows
    report: Report


def audit_make(*, site: Site, first_day: date, last_day: date, cut_off: date) -> Made:
    """Read the register and build an audit; nothing is written.

    Raises ValueError when the days do not follow one another.
    """
    agreed = in_force(site, last_day)
    spec = Spec(
        site=site.name,
        first_day=first_day,
        last_day=last_day,
        cut_off=cut_off,
        protocol=agreed.values,
        measured=own_bounds(agreed.values, site=site, until=cut_off),
    )
    rows = fetch(site, spec)
    return Made(protocol=agreed.protocol, rows=rows, report=build(spec, rows))


def audit_issue(
    *,
    site: Site,
    first_day: date,
    last_day: date,
    cut_off: date,
    user: User,
    comment: str = "",
) -> AuditReport:
    """Build, print and freeze an audit in the name of `user`."""
    made = audit_make(site=site, first_day=first_day, last_day=last_day, cut_off=cut_off)
    text = rows_to_json(made.rows)
    data, pdf_sha256 = audit_print(made.report, comment=comment)
    with acting(user, "Audit issued"):
        report = AuditReport(
            site=site,
            title=made.report.document.title,
            first_day=first_day,
            last_day=last_day,
            spec=made.report.spec.as_json(),
            rows=_packed(text),
            rows_sha256=hashlib.sha256(text.encode()).hexdigest(),
            pdf=data,
            pdf_sha256=pdf_sha256,
            protocol=made.protocol,
            rulesets=_rulesets(site, first_day, last_day),
            code_version=code_version(),
            lock_sha256=lock_sha256(),
            issued_by=user,
            issued_at=timezone.now(),
            comment=comment,
        )
        report.full_clean(exclude=["rows", "pdf"])
        report.save()
    return report


def audit_print(report: Report, *, comment: str = "") -> tuple[bytes, str]:
    """Return the PDF of an audit and its SHA-256: the same report gives the same bytes."""
    return pdf(TEMPLATE, pdf_context(report) | {"comment": comment})


@dataclass(frozen=True, slots=True)
class Redone:
    """Whether an issued audit is as it was frozen, and prints again from its own rows.

    `same_bytes` needs `same_rows`; `same_pdf` is about the stored file alone.
    """

    same_rows: bool
    same_bytes: bool
    same_pdf: bool
    same_code: bool


class RowsDamaged(Exception):
    """The stored rows are not those that were frozen."""


def audit_redo(report: AuditReport) -> Redone:
    """Build and print an issued audit again from its own frozen rows, and compare."""
    try:
        sha256 = _print_again(report, frozen_rows(report))
        same_rows = True
    except RowsDamaged:
        sha256, same_rows = "", False
    return Redone(
        same_rows=same_rows,
        same_bytes=sha256 == report.pdf_sha256,
        same_pdf=hashlib.sha256(bytes(report.pdf)).hexdigest() == report.pdf_sha256,
        same_code=(report.code_version, report.lock_sha256) == (code_version(), lock_sha256()),
    )


def frozen_rows(report: AuditReport) -> str:
    """Return the input rows of an issued audit as JSON text.

    Raises RowsDamaged when they differ from the digest taken when it was issued.
    """
    try:
        data = gzip.decompress(bytes(report.rows))
    except (OSError, EOFError, zlib.error) as error:
        raise RowsDamaged("The stored rows cannot be unpacked.") from error
    if hashlib.sha256(data).hexdigest() != report.rows_sha256:
        raise RowsDamaged("The stored rows differ from their digest.")
    return data.decode()


def _print_again(report: AuditReport, text: str) -> str:
    """The digest of a second print; "" when this version cannot read what another wrote."""
    try:
        again = build(Spec.from_json(report.spec), rows_from_json(text))
    except (ValueError, KeyError, TypeError):
        return ""
    return audit_print(again, comment=report.comment)[1]


def _packed(text: str) -> bytes:
    # mtime 0: the packed bytes depend on the rows alone.
    return gzip.compress(text.encode(), mtime=0)


def _rulesets(site: Site, first_day: date, last_day: date) -> list[str]:
    """The rule sets by which fractures were assessed in these days."""
    rows = Assessment.objects.live().filter(
        fracture__patient__site=site, as_of__gte=first_day, as_of__lte=last_day
    )
    return sorted(set(rows.order_by().values_list("ruleset_id", flat=True).distinct()))


@cache
def code_version() -> str:
    """The commit of the running code, or the version of the package where there is no git.

    Code that differs from its commit says so.
    """
    describe = ["describe", "--always", "--exclude=*", "--abbrev=12", "--dirty=, changed"]
    command = ["git", "-C", str(settings.BASE_DIR), *describe]
    try:
        found = subprocess.run(command, capture_output=True, text=True, check=True, timeout=10)
    except (OSError, subprocess.SubprocessError):
        return "0.1.0"
    return found.stdout.strip()


@cache
def lock_sha256() -> str:
    """SHA-256 of the lock file that names every package."""
    lock = settings.BASE_DIR / ".ci" / "lock.txt"
    return hashlib.sha256(lock.read_bytes()).hexdigest() if lock.exists() else ""


def stored_spec(report: AuditReport) -> str:
    """What was asked, as readable JSON."""
    return json.dumps(report.spec, indent=2, ensure_ascii=False)
