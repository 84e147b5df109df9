"""The audit on paper: what the PDF template places."""

from typing import Any

from register.domain.days import day_words
from register.paper import data_address
from reports.audits.quarter import Report
from reports.figures.paper import svg


def pdf_context(report: Report) -> dict[str, Any]:
    """Return the context of the audit's PDF. Nothing in it depends on the clock."""
    document = report.document
    return {
        "title": document.title,
        "site": document.subtitle,
        "dated": report.spec.cut_off,
        "printed": f"Records read up to {day_words(report.spec.cut_off)}",
        "digest": report.rows_sha256,
        "document": document,
        "figures": {
            figure.id: data_address(svg(figure))
            for section in document.sections
            for figure in section.figures
            if not figure.is_empty
        },
    }
