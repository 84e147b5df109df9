"""The audit on paper: what its template places, figures drawn as SVG inside the document."""

from dataclasses import dataclass
from typing import Any

from register.domain.days import day_words
from register.paper import data_address
from reports.audits.document import Section, Table
from reports.audits.quarter import Report
from reports.figures import paper
from reports.figures.description import Figure, FigureTable, as_table


@dataclass(frozen=True, slots=True)
class Plate:
    """One figure on paper beside the table of its numbers."""

    title: str
    method: str
    address: str
    words: str
    beside: bool
    table: FigureTable


@dataclass(frozen=True, slots=True)
class Chapter:
    """One section of the document, numbered, with its figures drawn."""

    number: int
    id: str
    title: str
    sentences: tuple[str, ...]
    tables: tuple[Table, ...]
    plates: tuple[Plate, ...]


def pdf_context(report: Report) -> dict[str, Any]:
    """Return the context of reports/pdf/audit.html; the same report gives the same context."""
    document, spec = report.document, report.spec
    return {
        "title": document.title,
        "site": spec.site,
        "dated": spec.cut_off,
        "printed": f"Records read up to {day_words(spec.cut_off)}",
        "digest": report.rows_sha256,
        "document": document,
        "chapters": [
            _chapter(number, section) for number, section in enumerate(document.sections, 1)
        ],
    }


def _chapter(number: int, section: Section) -> Chapter:
    return Chapter(
        number=number,
        id=section.id,
        title=section.title,
        sentences=section.sentences,
        tables=section.tables,
        plates=tuple(_plate(figure) for figure in section.figures if not figure.is_empty),
    )


def _plate(figure: Figure) -> Plate:
    """Two series fit beside the figure; the table of more stands under it."""
    height = 22 + 7.5 * len(figure.places.ticks) if figure.lying else 50
    beside = len(figure.series) <= 2
    width = 92 if beside else 178
    return Plate(
        title=figure.title,
        method=figure.explained,
        address=data_address(paper.svg(figure, width_mm=width, height_mm=height)),
        words=f"{figure.title}. The table beside it holds the same numbers.",
        beside=beside,
        table=as_table(figure),
    )
