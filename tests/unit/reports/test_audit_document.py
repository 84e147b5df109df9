"""The words of an audit and its PDF: denominators, silence when too few, whole pages."""

import io
import re
from dataclasses import replace

import pytest
from pypdf import PdfReader

from register.paper import pdf
from reports.audits.document import Column, Line, Table
from reports.audits.numbers.harm import Harm
from reports.audits.pages.harm import none_sentence
from reports.audits.pages.text import change, difference, in_full, of
from reports.audits.printing import pdf_context
from reports.audits.quarter import build
from reports.audits.rows import Rows
from reports.audits.values import Shared, average, share
from reports.figures.description import as_table
from reports.wording import NO_BREAK, THIN
from tests.unit.reports import invented

REPORT = build(invented.SPEC, invented.rows())


def plain(text):
    """Text with ordinary spaces and no line breaks."""
    return " ".join(text.replace(THIN, " ").replace(NO_BREAK, " ").split())


def strings(document):
    """Every text of a document."""
    for sentence in document.headline:
        yield from (sentence.lead, sentence.text)
    tables = [document.key, *(table for section in document.sections for table in section.tables)]
    for section in document.sections:
        yield from (section.title, *section.sentences)
    for table in tables:
        yield from (table.title, table.about, *table.notes, *(c.head for c in table.columns))
        for line in table.lines:
            yield from line.cells


# --- words ------------------------------------------------------------------------


def test_a_percentage_never_stands_without_its_counts():
    assert plain(of(share(18, 24))) == "18 of 24 (75 %)"
    assert (
        plain(in_full(share(18, 24), "levels"))
        == "18 of 24 levels (75 %, 95 % interval 55 to 88 %)"
    )


def test_percentages_carry_a_decimal_from_a_hundred_on():
    assert plain(of(share(33, 99))) == "33 of 99 (33 %)"
    assert plain(of(share(33, 100))) == "33 of 100 (33.0 %)"


def test_fewer_than_five_are_too_few_to_tell():
    assert plain(of(share(2, 4))) == "2 of 4"
    assert plain(in_full(share(2, 4), "levels")) == "2 of 4 levels (too few to tell)"
    assert change(average([])) == "–"
    assert difference(share(1, 4), share(10, 20)) == "too few to tell"


def test_a_difference_is_given_with_its_interval_in_points():
    """56 of 70 against 48 of 80: 20 points, 5.24 to 33.39 (Newcombe 1998, method 10)."""
    assert difference(share(56, 70), share(48, 80)) == "+20 (5 to 33)"


def test_nothing_seen_says_how_high_the_true_rate_could_be():
    """0 of 14: 19.26 % (Hanley and Lippman-Hand 1983)."""
    kinds = (Shared("infection", "infection", share(0, 14)),)
    none = Harm(14, 14, 0, share(0, 14), kinds, (), 0, 0.19264)
    assert plain(none_sentence("the quarter", none)) == (
        "Not seen in the quarter, in 14 procedures: infection. Nought of 14 still allows a true "
        "rate of up to 19 % for each (one-sided 95 % limit)."
    )


def test_every_table_names_its_clock_and_its_unit():
    tables = [table for section in REPORT.document.sections[:-1] for table in section.tables]
    assert len(tables) >= 8
    for table in tables:
        assert table.about.startswith(("Clock: done", "Clock: due"))
        assert "Unit: " in table.about
    clocks = {line.cells[1] for line in REPORT.document.key.lines}
    assert clocks == {"done", "due"}


def test_no_text_shows_a_hole():
    for text in strings(REPORT.document):
        assert not re.search(r"\bNone\b|\bnan\b|\binf\b|\{|\}", text), text


def test_an_empty_register_says_so_in_words_and_draws_nothing():
    document = build(invented.SPEC, Rows()).document
    words = {sentence.lead: sentence.text for sentence in document.headline}
    assert words["Leaks"] == "No level was treated in the quarter."
    assert words["Pain, 3 months"] == "No contact fell due in the quarter."
    assert all(not section.figures for section in document.sections)
    for text in strings(document):
        assert not re.search(r"\bNone\b|\bnan\b|(?<!\d)0 %", text.replace(THIN, " ")), text


def test_change_without_comparison_and_imaging_are_cautioned_on_the_first_page():
    text = REPORT.document.headline[-1].text
    assert "natural healing and regression to the mean cannot be told apart" in text
    assert "CT finds far more leaks" in text


def test_a_row_that_does_not_fill_its_columns_is_refused():
    with pytest.raises(ValueError, match=r"does not fill the columns"):
        Table("x", "x", "x", (Column("a"), Column("b")), (Line(("1",)),))


def test_rows_are_grouped_under_their_headings():
    table = Table(
        "x",
        "x",
        "x",
        (Column("a", figure=False), Column("b")),
        (
            Line(("all", "9")),
            Line(("By kind",), "group"),
            Line(("one", "4"), "part"),
            Line(("two", "5"), "part"),
            Line(("after", "1")),
        ),
    )
    assert [(g.head, [line.head for line in g.lines]) for g in table.groups] == [
        ("", ["all"]),
        ("By kind", ["one", "two"]),
        ("", ["after"]),
    ]


# --- paper ------------------------------------------------------------------------


@pytest.fixture(scope="module")
def printed():
    data, digest = pdf("reports/pdf/audit.html", pdf_context(REPORT) | {"comment": ""})
    pages = [plain(page.extract_text()) for page in PdfReader(io.BytesIO(data)).pages]
    return data, digest, pages


def test_a_second_print_has_the_same_bytes(printed):
    again = build(invented.SPEC, invented.rows())
    assert pdf("reports/pdf/audit.html", pdf_context(again) | {"comment": ""})[1] == printed[1]


def test_the_first_page_can_be_read_alone(printed):
    first = printed[2][0]
    for sentence in REPORT.document.headline:
        assert plain(sentence.text) in first
    for line in REPORT.document.key.lines:
        assert plain(" ".join(line.cells)) in first
    assert "1 Activity and case mix" not in first


def test_everything_of_the_report_is_printed(printed):
    text = " ".join(printed[2])
    for section in REPORT.document.sections:
        for sentence in section.sentences:
            words = plain(sentence)
            assert words in text or words.split(". ")[0] in text, words
        for table in section.tables:
            for line in table.lines:
                cells = [cell for cell in line.cells if cell]
                assert all(plain(cell).split(" ")[0] in text for cell in cells), line


def test_every_figure_is_printed_with_the_table_of_its_numbers(printed):
    text = " ".join(printed[2])
    figures = [figure for section in REPORT.document.sections for figure in section.figures]
    assert {figure.id for figure in figures} == {
        "procedures-by-month",
        "completeness",
        "pain-change",
        "leaks-by-route",
        "height-change",
    }
    for figure in figures:
        assert plain(figure.title) in text
        for row in as_table(figure).rows:
            assert plain(" ".join(row)) in text
        for tick in figure.values.ticks:
            assert tick.label in text  # text of the drawing is text


def test_every_page_names_site_digest_and_purpose(printed):
    for number, page in enumerate(printed[2], 1):
        assert "Harrowmere General Hospital" in page
        assert REPORT.rows_sha256 in page
        assert "Not placed on the market as a medical device" in page
        assert f"page {number} of {len(printed[2])}" in page


def test_what_people_type_is_printed_as_text():
    name = "<img src=http://x.test/a> & 'cement'"
    comment = "Two lists were lost to <b>strikes</b>.\nSee minutes."
    rows = invented.rows(12)
    hostile = replace(
        rows, procedures=tuple(replace(row, technique=name) for row in rows.procedures)
    )
    context = pdf_context(build(invented.SPEC, hostile)) | {"comment": comment}
    data, _ = pdf("reports/pdf/audit.html", context)
    pages = [plain(page.extract_text()) for page in PdfReader(io.BytesIO(data)).pages]
    assert "Two lists were lost to <b>strikes</b>. See minutes." in pages[1]
    assert name in " ".join(pages)
