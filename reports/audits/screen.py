"""The audit on screen: the same document as the PDF, with figures that can be pointed at."""

from dataclasses import dataclass
from typing import Any

from register.tables import Cell, Column, Table
from reports.audits.document import Section
from reports.audits.document import Table as PrintedTable
from reports.audits.quarter import Report
from reports.figures.description import Figure, as_table
from reports.figures.screen import plotly

FEW_SERIES = 2  # the table of more stands under its figure, as on paper


@dataclass(frozen=True, slots=True)
class Chart:
    """One figure for components/chart.html; `beside`: its numbers fit at its side."""

    id: str
    title: str
    figure: dict[str, Any]
    table: Table
    method: str
    beside: bool


@dataclass(frozen=True, slots=True)
class Chapter:
    """One section with its tables and charts."""

    id: str
    title: str
    sentences: tuple[str, ...]
    tables: tuple[PrintedTable, ...]
    charts: tuple[Chart, ...]


def screen_context(report: Report) -> dict[str, Any]:
    """Return what the page of a draft shows. Figures without any value are left out."""
    document = report.document
    return {
        "document": document,
        "rows_sha256": report.rows_sha256,
        "chapters": [_chapter(section) for section in document.sections],
    }


def _chapter(section: Section) -> Chapter:
    return Chapter(
        id=section.id,
        title=section.title,
        sentences=section.sentences,
        tables=section.tables,
        charts=tuple(_chart(figure) for figure in section.figures if not figure.is_empty),
    )


def _chart(figure: Figure) -> Chart:
    numbers = as_table(figure)
    columns = [Column(numbers.header[0] or "Place")]
    columns += [Column(name, figures=True) for name in numbers.header[1:]]
    rows = tuple(
        tuple(Cell(words, figures=place > 0, is_head=place == 0) for place, words in enumerate(row))
        for row in numbers.rows
    )
    table = Table("The same numbers", tuple(columns), rows, note=figure.explained)
    beside = len(figure.series) <= FEW_SERIES
    return Chart(figure.id, figure.title, plotly(figure), table, figure.explained, beside)
