"""The overall answer: the whole table, and its words for people."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal as D
from itertools import product

import pytest

from planning.rules.answer import AnswerKind, counted_words, overall
from planning.rules.clock import fracture_is_inside_the_window
from planning.rules.core import Result
from planning.rules.lock import plain_case
from planning.rules.outcomes import Effect, Outcome, Stage, Verdict
from planning.rules.pain import pain_is_not_improving
from planning.rules.rulesets import ruleset

DAY = date(2026, 11, 25)
PARTS = [
    *((effect, False, False) for effect in Effect),
    (None, False, False),
    (None, True, False),
    (None, True, True),
]


@pytest.fixture
def result(values):
    def build(effect, undecided, decides):
        verdict = Verdict.CANNOT_ASSESS if undecided else Verdict.NOT_MET
        missing = ("inr",) if undecided else ()
        rule = fracture_is_inside_the_window if decides else pain_is_not_improving
        return Result(rule, Outcome(verdict, "…", effect, missing), plain_case(DAY), values)

    return build


def expected(parts):
    """The table of the module, written a second time from the other end."""
    effects = {effect for effect, _, _ in parts}
    undecided = [decides for _, is_undecided, decides in parts if is_undecided]
    if Effect.REFERS_URGENTLY in effects:
        return AnswerKind.URGENT
    if Effect.RULES_OUT_ROUTE in effects:
        return AnswerKind.RULED_OUT
    if any(undecided):
        return AnswerKind.CANNOT_ASSESS
    if Effect.NOT_YET in effects:
        return AnswerKind.NOT_YET
    if Effect.CAUTIONS in effects or undecided:
        return AnswerKind.CAUTIONS
    return AnswerKind.SUPPORTS if Effect.SUPPORTS in effects else AnswerKind.NOTHING_FOR


def test_the_whole_table(result):
    for parts in product(PARTS, repeat=3):
        assert overall(result(*part) for part in parts).kind is expected(parts)


def test_nothing_at_all_speaks_for_nothing():
    assert overall([]).kind is AnswerKind.NOTHING_FOR


def test_a_rule_that_is_not_due_counts_for_nothing(result):
    urgent = replace(result(Effect.REFERS_URGENTLY, False, False), due=Stage.PLAN)
    assert overall([urgent, result(Effect.SUPPORTS, False, False)]).kind is AnswerKind.SUPPORTS


def old(days):
    return {"onset_on": DAY - timedelta(days=days)}


@pytest.mark.parametrize(
    ("changes", "kind", "words"),
    [
        ({}, AnswerKind.SUPPORTS, "Speaks for a procedure"),
        (old(50), AnswerKind.CAUTIONS, "Speaks for a procedure; one caution"),
        (
            old(50) | {"pedicle_signal": None, "end_plates": None, "cancer_history": "past"},
            AnswerKind.CAUTIONS,
            "Speaks for a procedure; two cautions and two facts not recorded",
        ),
        (
            {"disc_centred": True, "tension_band": "suspected"},
            AnswerKind.NOT_YET,
            "Not yet: two matters to settle",
        ),
        (
            {"neurology": None, "onset_on": None, "disc_centred": True},
            AnswerKind.CANNOT_ASSESS,
            "Cannot be assessed without neurological grade and day of onset",
        ),
        (
            {"pain_trend": "improving", "neurology": None},
            AnswerKind.RULED_OUT,
            "Speaks against a procedure, needs a second name",
        ),
        (
            {"tension_band": "injured"},
            AnswerKind.RULED_OUT,
            "Speaks against every procedure but posterior fixation, needs a second name",
        ),
        (
            {"neurology": "N3", "infection_state": "active", "pain_trend": "improving"},
            AnswerKind.URGENT,
            "Urgent: spinal surgeon and infection team first",
        ),
    ],
)
def test_the_words_for_people(values, changes, kind, words):
    rules = ruleset("commissioning-1")
    case = replace(plain_case(DAY), **changes)
    answer = overall(rules.evaluate(case, values, stage=Stage.DECISION))
    assert (answer.kind, answer.words) == (kind, words)


def test_where_nothing_speaks_for_it_a_caution_says_so(result):
    answer = overall([result(Effect.CAUTIONS, False, False)])
    assert answer.words == "Nothing recorded speaks for a procedure; one caution"


def test_every_answer_says_that_people_decide():
    answer = overall([])
    assert "decides nothing" in answer.notice
    assert "Local protocol and licensed practice come first" in answer.notice
    assert answer.as_json()["notice"] == answer.notice


def test_a_laboratory_value_that_speaks_counts_at_triage(values):
    rules = ruleset("commissioning-1")
    for inr, kind in ((None, AnswerKind.SUPPORTS), (D("2.4"), AnswerKind.RULED_OUT)):
        case = replace(plain_case(DAY), inr=inr)
        assert overall(rules.evaluate(case, values, stage=Stage.TRIAGE)).kind is kind


@pytest.mark.parametrize(
    ("number", "words"), [(1, "one fact"), (2, "two facts"), (12, "twelve facts"), (13, "13 facts")]
)
def test_small_numbers_are_words(number, words):
    assert counted_words(number, "fact") == words
