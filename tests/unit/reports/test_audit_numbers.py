"""The numbers of an audit: small cohorts counted by hand, and sums that always agree."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reports.audits.numbers.activity import activity, by_month
from reports.audits.numbers.contacts import Fate, all_after, fate, flows, person_time
from reports.audits.numbers.harm import harm
from reports.audits.numbers.leaks import leaks
from reports.audits.numbers.pain import pain
from reports.audits.rows import (
    ComplicationRow,
    ContactRow,
    LeakRow,
    LevelRow,
    ProcedureRow,
    Rows,
    ScoreRow,
)
from reports.audits.values import average, counted
from reports.stats.proportions import wilson_interval
from tests.unit.reports import invented
from tests.unit.reports.invented import SPEC

DAY = date(2027, 1, 20)
QUARTER = SPEC.quarter


def procedure(key="P1", **changes):
    row = ProcedureRow(
        key=key,
        patient=f"N{key}",
        performed_on=DAY,
        technique="cement alone",
        route="cement",
        age_years=80,
        sex="female",
        signed=True,
        complication_check="none",
        end="",
        ended_on=None,
    )
    return replace(row, **changes)


def level(key, owner="P1", **changes):
    row = LevelRow(
        key=key,
        procedure=owner,
        level="L1",
        cause="osteoporotic",
        fracture_age_days=30,
        onset_precision="day",
        leak_check="no_leak",
        leak_checked_on="ct",
    )
    return replace(row, **changes)


def leak(key, level_key, **changes):
    row = LeakRow(key, level_key, "disc", "upper_disc", "ct", "none")
    return replace(row, **changes)


def contact(owner, timepoint="weeks_2_4", held=21, **changes):
    point = next(t for t in SPEC.protocol.timepoints if t.code == timepoint)
    row = ContactRow(
        key=f"{owner}/{timepoint}",
        procedure=owner,
        timepoint=timepoint,
        opens_on=DAY + timedelta(days=point.opens_days),
        target_on=DAY + timedelta(days=point.target_days),
        closes_on=DAY + timedelta(days=point.closes_days),
        held_on=None if held is None else DAY + timedelta(days=held),
    )
    return replace(row, **changes)


def score(contact_row, value, reason=""):
    number = None if value is None else Decimal(value)
    return ScoreRow(f"{contact_row.key}/pain", contact_row.key, "pain_moving", number, reason)


# --- what became of a contact ---------------------------------------------------


@pytest.mark.parametrize(
    ("held", "end", "ended", "expected"),
    [
        (14, "", None, Fate.SEEN),
        (31, "", None, Fate.SEEN),
        (32, "", None, Fate.OUTSIDE),
        (13, "", None, Fate.OUTSIDE),
        (21, "dead", 60, Fate.SEEN),
        (None, "", None, Fate.NOT_SEEN),
        (None, "dead", 10, Fate.DEAD),
        (None, "dead", 31, Fate.DEAD),
        (None, "dead", 32, Fate.NOT_SEEN),
        (None, "withdrawn", 5, Fate.WITHDRAWN),
        (None, "moved", 5, Fate.MOVED),
        (None, "unable", 5, Fate.UNABLE),
        (None, "lost", 5, Fate.LOST),
        (300, "", None, Fate.NOT_SEEN),
    ],
)
def test_every_contact_has_one_fate(held, end, ended, expected):
    """Window day 14 to 31; day 300 lies after the data cut-off."""
    owner = procedure(end=end, ended_on=None if ended is None else DAY + timedelta(days=ended))
    assert fate(contact("P1", held=held), owner, SPEC.cut_off) is expected


def test_the_dead_leave_the_denominator_and_the_lost_stay():
    rows = Rows(
        procedures=(
            procedure("P1"),
            procedure("P2", end="dead", ended_on=DAY + timedelta(days=3)),
            procedure("P3", end="lost", ended_on=DAY + timedelta(days=3)),
        ),
        contacts=(contact("P1"), contact("P2", held=None), contact("P3", held=None)),
    )
    flow = next(f for f in flows(SPEC, rows, QUARTER) if f.timepoint == "weeks_2_4")
    assert (flow.due, flow.alive) == (3, 2)
    assert (flow.seen.events, flow.seen.total) == (1, 2)
    assert flow.count(Fate.LOST) == 1


def test_a_contact_is_due_by_the_day_its_window_closes():
    before = contact("P1", held=None, closes_on=date(2026, 12, 31))
    first = contact("P2", held=None, closes_on=date(2027, 1, 1))
    last = contact("P3", held=None, closes_on=date(2027, 3, 31))
    after = contact("P4", held=None, closes_on=date(2027, 4, 1))
    rows = Rows(
        procedures=tuple(procedure(f"P{n}") for n in (1, 2, 3, 4)),
        contacts=(before, first, last, after),
    )
    due = {f.timepoint: f.due for f in flows(SPEC, rows, QUARTER)}
    assert due["weeks_2_4"] == 2
    assert all_after(SPEC, rows, QUARTER).due == 2


def test_follow_up_time_is_owed_to_the_last_closed_contact_or_to_death():
    rows = Rows(
        procedures=(
            procedure("P1"),
            procedure("P2", end="dead", ended_on=DAY + timedelta(days=10)),
            procedure("P3"),
        ),
        contacts=(contact("P1"), contact("P2", held=None), contact("P3", held=None)),
    )
    time = person_time(SPEC, rows)
    # P1 21 of 21 days; P2 10 of 10, the death is known; P3 0 of 21.
    assert (time.owed, time.observed) == (52, 31)
    assert time.index == pytest.approx(31 / 52)


def test_no_follow_up_owed_is_not_nought_per_cent():
    assert person_time(SPEC, Rows()).index is None


# --- pain -----------------------------------------------------------------------


def pain_cohort():
    """P1 to P6: 8 to 4, 6 to 5, 0 to 0, no score, not seen, no score before."""
    owners = [procedure(f"P{n}") for n in range(1, 8)]
    owners[6] = procedure("P7", end="dead", ended_on=DAY + timedelta(days=2))
    before = [contact(f"P{n}", "before", held=-1) for n in range(1, 6)]
    after = [contact(f"P{n}", held=None if n in (5, 7) else 21) for n in range(1, 8)]
    scores = [score(c, v) for c, v in zip(before, ("8", "6", "0", "7", "9"), strict=True)]
    scores += [score(after[n], v) for n, v in ((0, "4"), (1, "5"), (2, "0"), (5, "3"))]
    scores.append(score(after[3], None, "declined"))
    return Rows(procedures=tuple(owners), contacts=(*before, *after), scores=tuple(scores))


def test_pain_is_paired_and_the_missing_are_named():
    (one,) = [p for p in pain(SPEC, pain_cohort(), QUARTER) if p.timepoint == "weeks_2_4"]
    assert (one.due, one.dead, one.not_seen) == (7, 1, 1)
    assert (one.no_score, one.no_baseline, one.pairs) == (1, 1, 3)
    assert [(r.code, r.n) for r in one.no_score_reasons] == [("declined", 1)]
    assert one.change.mean == pytest.approx(-5 / 3)
    assert one.change.lower is None  # three pairs: too few to tell
    assert (one.by_points.events, one.by_points.total) == (1, 3)
    assert (one.by_percent.events, one.by_percent.total) == (1, 2)
    assert one.baseline_nought == 1
    assert (one.bounds.worst, one.bounds.best) == (pytest.approx(1 / 6), pytest.approx(4 / 6))


def test_a_score_taken_after_the_procedure_is_no_baseline():
    rows = pain_cohort()
    late = replace(rows.contacts[0], held_on=DAY + timedelta(days=1))
    assert late.timepoint == "before"
    rows = replace(rows, contacts=(late, *rows.contacts[1:]))
    (one,) = [p for p in pain(SPEC, rows, QUARTER) if p.timepoint == "weeks_2_4"]
    assert (one.pairs, one.no_baseline) == (2, 2)


def test_a_score_outside_the_window_is_not_averaged():
    rows = pain_cohort()
    moved = tuple(
        replace(c, held_on=DAY + timedelta(days=33)) if c.key == "P1/weeks_2_4" else c
        for c in rows.contacts
    )
    (one,) = [
        p for p in pain(SPEC, replace(rows, contacts=moved), QUARTER) if p.timepoint == "weeks_2_4"
    ]
    assert (one.pairs, one.not_seen) == (2, 2)


# --- leaks ----------------------------------------------------------------------


def test_a_level_that_nobody_looked_at_is_not_a_level_without_a_leak():
    rows = Rows(
        procedures=(procedure("P1"), procedure("P2"), procedure("P3")),
        levels=(
            level("A", "P1", leak_check="leak"),
            level("B", "P1"),
            level("C", "P2", leak_check="", leak_checked_on=""),
            level("D", "P3", leak_checked_on="film"),
        ),
        leaks=(
            leak("x", "A"),
            leak("y", "A", route="cortical", place="paraspinal", consequence=""),
        ),
    )
    found = leaks(rows, QUARTER)
    assert (found.levels, found.looked_at, found.not_recorded) == (4, 3, 1)
    assert (found.per_level.events, found.per_level.total) == (1, 3)
    assert (found.per_procedure.events, found.per_procedure.total) == (1, 2)
    assert found.procedures_unclear == 1
    assert {(e.code, e.share.events, e.share.total) for e in found.by_imaging} == {
        ("ct", 1, 2),
        ("film", 0, 1),
    }
    routes = {e.code: e.share.events for e in found.by_route}
    assert (routes["disc"], routes["cortical"], routes["segmental"]) == (1, 1, 0)
    assert {(c.code, c.n) for c in found.consequences} == {("none", 1), ("", 1)}


def test_a_recorded_leak_counts_whatever_the_check_box_says():
    rows = Rows(
        procedures=(procedure(),),
        levels=(level("A", leak_check="", leak_checked_on=""), level("B", leak_check="leak")),
        leaks=(leak("x", "A", seen_on="film"),),
    )
    found = leaks(rows, QUARTER)
    assert (found.per_level.events, found.per_level.total) == (2, 2)
    assert {(e.code, e.share.events) for e in found.by_imaging} == {("film", 1), ("ct", 1)}
    assert {e.code: e.share.events for e in found.by_route}[""] == 1


def test_levels_of_one_procedure_widen_the_interval():
    owners = tuple(procedure(f"P{n}") for n in range(20))
    own = tuple(
        level(f"P{n}{side}", f"P{n}", leak_check="leak" if n < 6 else "no_leak")
        for n in range(20)
        for side in "ab"
    )
    found = leaks(Rows(procedures=owners, levels=own), QUARTER).per_level
    plain = wilson_interval(events=12, total=40)
    assert (found.events, found.total) == (12, 40)
    assert found.lower < plain.lower - 0.02
    assert found.upper > plain.upper + 0.02


# --- complications --------------------------------------------------------------


def test_silence_about_complications_is_not_none():
    rows = Rows(
        procedures=(
            procedure("P1"),
            procedure("P2", complication_check=""),
            procedure("P3", complication_check=""),
        ),
        complications=(
            ComplicationRow("a", "P3", "bleeding", "II", DAY),
            ComplicationRow("b", "P3", "bleeding", "", DAY),
            ComplicationRow("c", "P3", "infection", "IIIb", DAY),
        ),
    )
    found = harm(rows, QUARTER)
    assert (found.asked, found.not_recorded) == (2, 1)
    assert (found.any.events, found.any.total) == (1, 2)
    assert [(k.code, k.share.events) for k in found.seen_kinds] == [
        ("infection", 1),
        ("bleeding", 1),
    ]
    assert "cement embolism" in found.absent_kinds
    assert {(g.code, g.n) for g in found.by_grade} == {("II", 1), ("IIIb", 1), ("", 1)}
    assert found.none_limit == pytest.approx(1 - 0.05 ** (1 / 2))


def test_nobody_asked_leaves_the_limit_undefined():
    assert harm(Rows(procedures=(procedure(complication_check=""),)), QUARTER).none_limit is None


# --- activity -------------------------------------------------------------------


def test_an_onset_known_to_the_month_is_not_held_against_the_window():
    rows = Rows(
        procedures=(procedure("P1"), procedure("P2", patient="NP1", sex="", age_years=None)),
        levels=(
            level("A", fracture_age_days=42),
            level("B", fracture_age_days=43, onset_precision="week"),
            level("C", fracture_age_days=10, onset_precision="month"),
            level("D", fracture_age_days=None, onset_precision="year"),
            level("E", "P2", fracture_age_days=None, onset_precision="", level="T7"),
        ),
    )
    found = activity(SPEC, rows, QUARTER)
    assert (found.procedures, found.patients, found.levels) == (2, 1, 5)
    assert (found.in_window.events, found.in_window.total) == (1, 2)
    assert (found.onset_vague, found.onset_missing) == (2, 1)
    assert [(c.words, c.n) for c in found.by_sex] == [("female", 1), ("not recorded", 1)]
    assert found.age_missing == 1
    assert [(c.words, c.n) for c in found.levels_each] == [("1 level", 1), ("4 levels", 1)]
    assert [(c.code, c.n) for c in found.by_region] == [("thoracic", 1), ("thoracolumbar", 4)]


def test_months_without_a_procedure_are_counted_as_nought():
    months = by_month(Rows(procedures=(procedure(),)), SPEC.twelve_months)
    assert [month.words for month in months][:2] == ["Apr 2026", "May 2026"]
    assert [month.n for month in months] == [0] * 9 + [1, 0, 0]


# --- sums that always agree -------------------------------------------------------


@settings(max_examples=20, deadline=None)
@given(st.integers(2, 60), st.integers(0, 10_000))
def test_denominators_reconcile_for_every_register(procedures, seed):
    rows = invented.rows(procedures, seed)
    for period in (SPEC.quarter, SPEC.twelve_months, SPEC.since_start):
        for flow in flows(SPEC, rows, period):
            assert flow.due == sum(n for _, n in flow.fates)
            assert flow.seen.total == flow.due - flow.count(Fate.DEAD)
        for one in pain(SPEC, rows, period):
            parts = one.dead + one.not_seen + one.no_score + one.no_baseline + one.pairs
            assert one.due == parts
            assert one.by_percent.total + one.baseline_nought == one.pairs
        found = leaks(rows, period)
        assert found.looked_at + found.not_recorded == found.levels
        assert found.per_procedure.total + found.procedures_unclear == harm(rows, period).procedures
        assert sum(e.share.total for e in found.by_imaging) == found.looked_at
        done = activity(SPEC, rows, period)
        assert done.in_window.total + done.onset_vague + done.onset_missing == done.levels
        assert sum(c.n for c in done.by_cause) == done.levels
    quarter, rest, year = (
        activity(SPEC, rows, p).procedures
        for p in (SPEC.quarter, SPEC.before_quarter, SPEC.twelve_months)
    )
    assert quarter + rest == year


def test_an_average_of_few_has_no_interval():
    assert average([]).mean is None
    assert average([Decimal(1)] * 4).lower is None
    assert average([Decimal(n) for n in range(5)]).lower is not None


def test_a_code_outside_the_vocabulary_is_an_error_and_not_dropped():
    with pytest.raises(KeyError, match="purple"):
        counted(["cement", "purple"], (("cement", "cement alone"),))
