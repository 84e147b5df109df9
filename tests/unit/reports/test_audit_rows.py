"""Input rows and spec: frozen, rebuilt to the same report, and refused when they do not fit."""

import dataclasses
import json
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reports.audits.numbers.contacts import Fate
from reports.audits.pages.contacts import seen_sentence
from reports.audits.quarter import build
from reports.audits.rows import LogLineRow, Rows, digest, rows_from_json, rows_to_json
from reports.audits.spec import Spec, quarter_before, quarter_days, quarter_of
from tests.unit.reports import invented

ROWS = invented.rows(40)


@settings(max_examples=15, deadline=None)
@given(st.integers(2, 30), st.integers(0, 1000))
def test_a_report_built_from_the_frozen_rows_is_the_same_report(procedures, seed):
    rows = invented.rows(procedures, seed)
    again = rows_from_json(rows_to_json(rows))
    assert again == rows
    spec = Spec.from_json(json.loads(json.dumps(invented.SPEC.as_json())))
    assert build(spec, again) == build(invented.SPEC, rows)


def test_the_order_of_the_rows_changes_nothing():
    shuffled = Rows(**{kind: getattr(ROWS, kind)[::-1] for kind in Rows.__dataclass_fields__})
    assert digest(shuffled) == digest(ROWS)
    assert build(invented.SPEC, shuffled) == build(invented.SPEC, ROWS)


def test_one_changed_value_changes_the_digest():
    first = dataclasses.replace(ROWS.procedures[0], age_years=59)
    assert digest(dataclasses.replace(ROWS, procedures=(first, *ROWS.procedures[1:]))) != digest(
        ROWS
    )


def test_a_missing_number_stays_missing():
    scores = rows_from_json(rows_to_json(ROWS)).scores
    missing = [score for score in scores if score.value is None]
    assert missing
    assert all(score.reason for score in missing)


def test_the_frozen_rows_hold_no_name_and_no_number_of_a_person():
    fields = {
        f
        for kind in json.loads(rows_to_json(ROWS)).values()
        if kind != "audit rows 1"
        for f in kind["fields"]
    }
    assert not {name for name in fields if "name" in name or "nhs" in name or "birth" in name}


def test_a_row_that_belongs_to_nothing_is_refused():
    with pytest.raises(ValueError, match=r"of the levels belongs to none of the procedures"):
        Rows(levels=ROWS.levels)
    with pytest.raises(ValueError, match=r"Two of the procedures share a key"):
        Rows(procedures=(ROWS.procedures[0], ROWS.procedures[0]))


def test_rows_of_another_form_are_refused():
    with pytest.raises(ValueError, match=r"use the version that wrote them"):
        rows_from_json('{"form": "audit rows 0"}')
    changed = json.loads(rows_to_json(ROWS))
    changed["leaks"]["fields"][1] = "vertebra"
    with pytest.raises(ValueError, match=r"The leaks have other fields"):
        rows_from_json(json.dumps(changed))


def test_rows_frozen_before_there_was_a_theatre_log_are_read_without_one():
    frozen = json.loads(rows_to_json(ROWS))
    del frozen["log_lines"]
    assert rows_from_json(json.dumps(frozen)) == ROWS
    del frozen["leaks"]
    with pytest.raises(KeyError):
        rows_from_json(json.dumps(frozen))


@pytest.mark.parametrize(
    ("kind", "later"),
    [("procedures", "earlier"), ("contacts", "entered_late"), ("log_lines", "operation")],
)
def test_rows_frozen_before_a_field_was_told_are_read_without_it(kind, later):
    line = LogLineRow("T1", invented.FIRST, "open")
    rows = dataclasses.replace(ROWS, log_lines=(line,))
    frozen = json.loads(rows_to_json(rows))
    assert frozen[kind]["fields"][-1] == later
    frozen[kind]["fields"].pop()
    for row in frozen[kind]["rows"]:
        row.pop()
    assert rows_from_json(json.dumps(frozen)) == rows


def test_contacts_that_nobody_could_have_seen_from_here_are_told_apart():
    late = tuple(dataclasses.replace(row, entered_late=True) for row in ROWS.contacts)
    for contacts, is_late in ((late, True), (ROWS.contacts, False)):
        report = build(invented.SPEC, dataclasses.replace(ROWS, contacts=contacts))
        flow = report.results.quarter.all_contacts
        not_seen = flow.count(Fate.NOT_SEEN)
        assert 1 < not_seen < flow.due
        assert flow.entered_late == not_seen * is_late
        words = f"{not_seen} of those not seen are contacts of earlier procedures whose window"
        assert (words in seen_sentence(flow)) is is_late
        notes = report.document.sections[1].tables[0].notes
        assert any(note.startswith("Since start: ") for note in notes) is is_late


def sentence_of(*lines: LogLineRow) -> str:
    """What an audit says of a theatre log."""
    rows = dataclasses.replace(ROWS, log_lines=lines)
    told = build(invented.SPEC, rows).document.sections[0].sentences[-1]
    return told.replace("\xa0", " ").replace("\u202f", " ")


def log_lines(*became: str, day: date = invented.FIRST, operation: str = "") -> list[LogLineRow]:
    return [
        LogLineRow(f"{day}/{operation}/{place}", day, one, operation)
        for place, one in enumerate(became, start=1)
    ]


def test_the_theatre_log_is_printed_with_its_days_and_its_share():
    found, rest = log_lines(*["found"] * 5), log_lines("open", "not_ours", day=date(2027, 2, 12))
    # 5 of 6 operations: design effect 6 / 5, so Wilson limits of 5/6 at n = 5, by hand.
    assert sentence_of(*found, *rest) == (
        "Theatre log of 01 Jan 2027 to 12 Feb 2027: 7 lines, 1 of them not of this register; "
        "found in the register: 5 of 6 lines (83 %, 95 % interval 40 to 97 %)."
    )
    assert sentence_of(*rest[1:]).endswith(": 1 line, 1 of them not of this register.")
    four = sentence_of(*found[:3], *rest)
    assert four.endswith("3 of 4 lines (too few to tell).")
    five = sentence_of(*found[:4], *rest)
    assert "4 of 5 lines (80 %, 95 % interval" in five


def test_lines_of_one_operation_do_not_make_its_share_look_surer():
    one, other = log_lines(*["found"] * 5, operation="O1"), log_lines("open", operation="O2")
    # 5 of one operation and none of another: design effect 10 / 3, limits at n = 1.8, by hand.
    assert "5 of 6 lines (83 %, 95 % interval 22 to 99 %)" in sentence_of(*one, *other)


def test_a_line_counts_from_the_first_to_the_last_day_of_the_quarter():
    none = "No line of a theatre log is recorded for this quarter."
    assert sentence_of() == none
    for day in (date(2026, 12, 31), date(2027, 4, 1)):
        assert sentence_of(*log_lines("found", day=day)) == none
    for day in (date(2027, 1, 1), date(2027, 3, 31)):
        assert ": 1 line; found" in sentence_of(*log_lines("found", day=day))


def test_the_twelve_months_end_with_the_quarter_and_the_rest_lies_before_it():
    spec = invented.SPEC
    assert (spec.twelve_months.first, spec.twelve_months.last) == (date(2026, 4, 1), spec.last_day)
    assert spec.before_quarter.last == date(2026, 12, 31)
    assert spec.quarter.holds(date(2027, 1, 1))
    assert spec.quarter.holds(date(2027, 3, 31))
    assert not spec.quarter.holds(date(2027, 4, 1))
    assert spec.since_start.holds(date(1999, 1, 1))


def test_a_leap_day_ends_a_year_that_begins_on_the_first_of_march():
    spec = dataclasses.replace(
        invented.SPEC,
        first_day=date(2027, 12, 1),
        last_day=date(2028, 2, 29),
        cut_off=date(2028, 3, 9),
    )
    assert spec.twelve_months.first == date(2027, 3, 1)


@pytest.mark.parametrize(
    ("first", "last", "title"),
    [
        (date(2027, 1, 1), date(2027, 3, 31), "January to March 2027"),
        (date(2027, 2, 1), date(2027, 2, 28), "February 2027"),
        (date(2026, 12, 1), date(2027, 2, 28), "December 2026 to February 2027"),
        (date(2027, 1, 4), date(2027, 3, 31), "04 Jan 2027 to 31 Mar 2027"),
    ],
)
def test_a_period_is_named_in_words(first, last, title):
    assert dataclasses.replace(invented.SPEC, first_day=first, last_day=last).title == title


def test_days_out_of_order_are_refused():
    with pytest.raises(ValueError, match=r"must follow one another; got 01 Jan 2027, 31 Mar 2027"):
        dataclasses.replace(invented.SPEC, cut_off=date(2027, 3, 30))


def test_quarters_of_a_year():
    assert quarter_days(2028, 1) == (date(2028, 1, 1), date(2028, 3, 31))
    assert quarter_days(2027, 4) == (date(2027, 10, 1), date(2027, 12, 31))
    with pytest.raises(ValueError, match=r"quarters 1 to 4; got 5"):
        quarter_days(2027, 5)
    assert quarter_of(date(2027, 3, 31)) == (date(2027, 1, 1), date(2027, 3, 31))
    assert quarter_before(date(2027, 1, 1)) == (date(2026, 10, 1), date(2026, 12, 31))
