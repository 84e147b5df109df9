"""Lists of earlier procedures: which fracture was treated, and rows that share one."""

from datetime import date

import pytest

from register.imports.verdicts import Kind
from tests.procedure_lists import (
    BARE,
    CELLS,
    DONE,
    fracture,
    kinds,
    person,
    procedure,
    row,
    treated,
    verdicts,
)

ONSET, REFERRED = date(2025, 2, 12), date(2025, 3, 2)
T12 = row(BARE, Levels="T12")


def judged(cells, *fractures, **more):
    [verdict] = verdicts(cells, known=[person(fractures=fractures, **more)])
    return verdict


def test_a_waiting_fracture_is_taken_only_when_onset_or_referral_say_so():
    for there in (fracture(onset=ONSET), fracture(referred=REFERRED)):
        verdict = judged(CELLS, there)
        assert verdict.kind is Kind.KNOWN
        assert verdict.edits[0].values["state"] == "treated"
        assert any("→ treated" in note for note in verdict.notes)
    verdict = judged(CELLS, fracture(referred=date(2025, 3, 1)))
    assert "T12 is waiting" in verdict.reasons[0]
    decided = judged(CELLS, fracture(onset=ONSET, state="listed"))
    assert "from a theatre list" in decided.reasons[0]


@pytest.mark.parametrize(
    ("told", "precision", "kind"),
    [
        ("01 Jan 2025", "day", Kind.KNOWN),
        ("01 Jan 2025", "week", Kind.KNOWN),
        ("01 Jan 2025", "month", Kind.CONFLICT),
        ("01 Jan 2025", "year", Kind.CONFLICT),
        ("Jan 2025", "day", Kind.CONFLICT),
        ("Jan 2025", "month", Kind.CONFLICT),
        ("2025", "day", Kind.CONFLICT),
        ("2025", "year", Kind.CONFLICT),
    ],
)
def test_onsets_of_one_month_or_year_are_not_one_fracture(told, precision, kind):
    there = fracture(onset=date(2025, 1, 1), precision=precision)
    verdict = judged(row(T12, Onset_date=told), there)
    assert verdict.kind is kind
    if kind is Kind.CONFLICT:
        assert "If it is the one that was treated, give its onset to the day" in verdict.reasons[0]
    by_referral = row(T12, Onset_date=told, Referral_date="02 Mar 2025")
    there = fracture(onset=date(2025, 1, 1), precision=precision, referred=REFERRED)
    assert judged(by_referral, there).kind is Kind.KNOWN


def test_a_treated_fracture_with_a_vague_onset_is_not_doubled_either():
    there = fracture(onset=date(2025, 1, 1), precision="year", state="treated")
    verdict = judged(row(T12, Onset_date="2025"), there)
    assert "T12 is recorded (treated), with onset 2025" in verdict.reasons[0]


def test_a_fracture_referred_after_the_procedure_is_never_taken():
    referred = date(2025, 3, 15)
    assert judged(CELLS, fracture(referred=referred)).edits == ()
    assert judged(CELLS, fracture(onset=date(2025, 3, 15))).edits == ()
    verdict = judged(CELLS, fracture(onset=ONSET, referred=referred))
    assert (verdict.kind, verdict.edits) == (Kind.CONFLICT, ())
    assert "and a referral of 15 Mar 2025, after the procedure" in verdict.reasons[0]
    assert judged(CELLS, fracture(onset=ONSET, referred=DONE)).kind is Kind.KNOWN


def test_an_onset_within_a_week_of_the_procedure_may_lie_before_it():
    near = fracture(onset=date(2025, 3, 18), precision="week")
    assert "T12 is waiting, with onset about 18 Mar 2025" in judged(T12, near).reasons[0]
    late = fracture(onset=date(2025, 3, 22), precision="week")
    assert judged(T12, late).kind is Kind.KNOWN


def test_what_a_new_procedure_says_of_a_recorded_fracture_is_weighed():
    there = fracture(onset=ONSET, cause="tumour", by_hand=frozenset(["cause"]))
    verdict = judged(CELLS, there)
    assert "T12, Cause: the file says osteoporotic, a person recorded" in verdict.reasons[0]
    verdict = judged(CELLS, fracture(referred=REFERRED))
    assert [edit.model for edit in verdict.edits] == ["fracture"]
    assert verdict.edits[0].values == {
        "state": "treated", "cause": "osteoporotic", "onset_on": ONSET, "onset_precision": "day",
    }  # fmt: skip
    verdict = judged(CELLS, fracture(onset=ONSET, cause="osteoporotic", state="treated"))
    assert verdict.edits == ()
    assert "T12, Referral date: the file says 02 Mar 2025; not recorded is kept." in verdict.notes


def test_a_fracture_of_a_recorded_procedure_keeps_its_state():
    broken = fracture(onset=ONSET, state="waiting")
    for state in ("open", "earlier"):
        done = procedure(treated(broken), state=state)
        assert judged(T12, broken, procedures=(done,)).kind is Kind.SAME


def test_an_onset_that_an_earlier_row_brings_is_not_given_to_another_fracture():
    broken = fracture(state="treated")
    done = procedure(treated(broken), on=date(2025, 6, 1))
    there = person(fractures=(broken,), procedures=(done,))
    new = row(T12, Onset_date="12 Feb 2025")
    old = row(new, Procedure_date="01 Jun 2025")
    _, verdict = verdicts(new, old, known=[there])
    assert verdict.reasons[0] == "T12 with this onset is recorded already."
    first, second = verdicts(old, new, known=[there])
    assert (first.kind, second.meant.fractures) == (Kind.CHANGED, {"T12": 20})


def two_recorded(**cells):
    """Two recorded procedures on one fracture, and a row of each."""
    broken = fracture(state="treated")
    later = date(2025, 6, 1)
    done = procedure(treated(broken)), procedure(treated(broken), on=later, pk=31)
    there = person(fractures=(broken,), procedures=done)
    first = row(T12, Cause="osteoporotic")
    return verdicts(first, row(T12, Procedure_date="01 Jun 2025", **cells), known=[there])


def test_two_rows_write_to_one_fracture_once():
    first, second = two_recorded(Cause="osteoporotic")
    assert (first.kind, second.kind) == (Kind.CHANGED, Kind.SAME)
    for cells in ({"Cause": "tumour"}, {"Cause": "osteoporotic", "Onset date": "12 Feb 2025"}):
        first, second = two_recorded(**cells)
        assert (first.kind, second.kind) == (Kind.CHANGED, Kind.CONFLICT)
        assert "An earlier row of this file writes to the same fracture" in second.reasons[0]


def test_two_new_procedures_take_one_waiting_fracture_once():
    there = person(fractures=(fracture(referred=REFERRED),))
    cells = row(T12, Referral_date="02 Mar 2025", Onset_date="12 Feb 2025")
    again = row(T12, Procedure_date="01 Jun 2025", Onset_date="12 Feb 2025")
    first, second = verdicts(cells, again, known=[there])
    assert (len(first.edits), second.edits) == (1, ())
    assert first.meant.fractures == second.meant.fractures == {"T12": 20}


def test_a_row_that_is_a_conflict_does_not_take_the_fracture_from_the_next():
    there = person(fractures=(fracture(onset=ONSET),))
    wrong = row(T12, Onset_date="12 Feb 2025", Cement_mL="9.5")
    right = row(T12, Onset_date="12 Feb 2025", Procedure_date="01 Jun 2025")
    first, second = verdicts(wrong, right, known=[there])
    assert first.kind is Kind.CONFLICT
    assert second.edits[0].values == {"state": "treated"}


@pytest.mark.parametrize(
    ("first", "second", "words"),
    [
        ({}, {}, ""),
        ({"Cause": "tumour"}, {}, ""),
        ({"Cause": "tumour"}, {"Cause": "tumour"}, ""),
        ({"Cause": "tumour"}, {"Cause": "osteoporotic"}, "says other or more of cause"),
        ({}, {"Cause": "tumour"}, "says other or more of cause"),
        ({}, {"Cause": "not known"}, "says other or more of cause"),
        ({}, {"Referral date": "02 Mar 2025"}, "says other or more of cause"),
        ({"Onset date": "2025"}, {"Onset date": "2025"}, "with the onset 2025 or near it"),
        ({"Onset date": "Feb 2025"}, {"Onset date": "01 Feb 2025"}, "01 Feb 2025 or near it"),
    ],
)
def test_rows_that_bring_one_fracture_say_the_same_of_it(first, second, words):
    cells = row(T12, Onset_date="12 Feb 2025")
    later = row(cells, Procedure_date="01 Jun 2025")
    for known in ((), (person(),)):
        before, after = verdicts(cells | first, later | second, known=known)
        assert words in " ".join(after.reasons)
        assert (after.kind is Kind.CONFLICT) == bool(words)
        assert words or after.meant.shared == {"T12": before.number}


def test_rows_without_onset_or_referral_bring_a_fracture_each():
    _, second = verdicts(T12, row(T12, Procedure_date="01 Jun 2025", Onset_date="14 Mar 2025"))
    assert second.meant.shared == {}


def test_two_techniques_of_one_day_at_one_level_are_for_a_person():
    _, verdict = verdicts(BARE, row(BARE, Technique="cement alone", Levels="L1 L2"))
    assert "says that L1 was treated that day by Balloon tamping" in verdict.reasons[0]
    assert kinds(BARE, row(BARE, Technique="cement alone", Levels="L2")) == ["new", "known"]
