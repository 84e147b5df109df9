"""The engine: what it refuses, when it asks, and what it shows."""

import json
from dataclasses import replace
from datetime import date
from decimal import Decimal as D

import pytest

from planning.rules import core
from planning.rules.bleeding import inr_allows_a_needle
from planning.rules.core import REGISTRY, evaluate, rule
from planning.rules.facts import FACT_NAMES, CaseFacts, words_of
from planning.rules.lock import plain_case
from planning.rules.neurology import no_neurological_deficit
from planning.rules.outcomes import Effect, Stage, Verdict, caution, met, shown
from register.domain.protocol import Source, SourceKind, shipped

DAY = date(2026, 11, 25)


@pytest.fixture(autouse=True)
def _registry(monkeypatch):
    monkeypatch.setattr(core, "REGISTRY", dict(REGISTRY))


def declare(function, **changes):
    given = {
        "id": "TEST-01",
        "version": 1,
        "title": "A test",
        "stage": Stage.DECISION,
        "effect": Effect.CAUTIONS,
        "sources": ("ta279",),
    }
    return rule(**given | changes)(function)


def body(*, inr: D, neurology: str | None, bound: D):
    return caution("no") if inr > bound else met("yes")


def test_inputs_are_the_arguments_and_their_types_say_which_must_be_there():
    declared = declare(body, parameters={"bound": "bleeding.inr_up_to"})
    assert (declared.needs, declared.uses) == (("inr",), ("neurology",))
    assert declared.reads == ("inr", "neurology")


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({}, "no fact is called bound"),
        ({"parameters": {"bound": "x", "other": "y"}}, "other is not an argument"),
        ({"parameters": {"bound": "x"}, "sources": ()}, "name at least one source"),
        ({"parameters": {"bound": "x"}, "sources": ("hearsay",)}, "each from sources"),
        (
            {"parameters": {"bound": "x"}, "also": (Effect.REFERS_URGENTLY,)},
            "effect is the most severe one",
        ),
        ({"parameters": {"bound": "x"}, "id": "CLOCK-01"}, "declared twice"),
    ],
)
def test_a_rule_that_makes_no_sense_cannot_be_declared(changes, says):
    with pytest.raises(TypeError, match=says):
        declare(body, **changes)


def test_a_rule_cannot_do_what_it_does_not_declare(values):
    declared = declare(
        lambda: caution("no"), effect=Effect.SUPPORTS, sources=("ta279",), id="TEST-02"
    )
    with pytest.raises(TypeError, match="which it does not declare"):
        evaluate(declared, plain_case(DAY), values)


def test_a_crash_in_a_rule_is_a_crash(values):
    def broken(*, inr: D):
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        evaluate(declare(broken), plain_case(DAY), values)


def test_a_later_rule_is_due_and_counts_for_nothing(values):
    result = evaluate(inr_allows_a_needle, plain_case(DAY), values, stage=Stage.TRIAGE)
    assert (result.due, result.effect, result.undecided) == (Stage.PLAN, None, False)
    assert result.sentence.startswith("Due by the plan. INR 1.0")
    unknown = evaluate(inr_allows_a_needle, CaseFacts(as_of=DAY), values, stage=Stage.DECISION)
    assert (unknown.due, unknown.undecided) == (Stage.PLAN, False)
    assert unknown.sentence == "Due by the plan. Not recorded: INR."


def test_a_later_rule_counts_from_the_day_its_value_speaks(values):
    case = replace(plain_case(DAY), inr=D("2.4"))
    result = evaluate(inr_allows_a_needle, case, values, stage=Stage.TRIAGE)
    assert (result.due, result.effect) == (None, Effect.RULES_OUT_ROUTE)


def test_the_value_of_the_protocol_is_the_bound(values):
    own = Source("ours", "Local protocol", SourceKind.COMMON_PRACTICE, DAY)
    strict = values.with_value("bleeding.inr_up_to", D("1.2"), source=own, since=DAY)
    case = replace(plain_case(DAY), inr=D("1.3"))
    assert evaluate(inr_allows_a_needle, case, values).verdict is Verdict.MET
    result = evaluate(inr_allows_a_needle, case, strict)
    assert (result.verdict, result.bounds[0].source) == (
        Verdict.NOT_MET,
        "Local protocol (common practice, no source: confirm locally)",
    )


def test_a_result_is_stored_with_wording_inputs_bounds_and_sources(values):
    stored = evaluate(no_neurological_deficit, replace(plain_case(DAY), neurology="N3"), values)
    plain = json.loads(json.dumps(stored.as_json()))
    assert plain["rule"] == "NEUROLOGY-01"
    assert (plain["verdict"], plain["effect"], plain["due"]) == (
        "not_met",
        "refers_urgently",
        None,
    )
    assert plain["action"] == {"what": "urgent opinion", "who": "spinal surgeon", "by": "today"}
    assert [i["value"] for i in plain["inputs"]] == ["N3 incomplete cord or cauda equina"]
    assert {s["kind"] for s in plain["sources"]} == {"published", "common_practice"}


@pytest.mark.parametrize(
    ("value", "bound", "text"),
    [
        ("24.99", "25", "24.9"),  # never printed as the 25.0 that it did not reach
        ("25.00", "25", "25"),
        ("25.01", "25", "25.1"),
        ("24.94", "25", "24.9"),
        ("40", "40", "40"),
        ("-0.04", "0", "-0.1"),
        ("0.333333", "0.5", "0.3"),
    ],
)
def test_a_printed_value_never_contradicts_the_verdict(value, bound, text):
    assert shown(D(value), D(bound)) == text


def test_facts_travel_as_json():
    case = replace(
        plain_case(DAY),
        antithrombotics=(("warfarin", "mechanical_valve"), ("aspirin", "")),
        infection_signs=("fever", "night_pain"),
        dates={"inr": date(2026, 11, 20)},
    )
    copy = CaseFacts.from_json(json.loads(json.dumps(case.as_json())))
    assert copy == case
    assert [type(getattr(copy, n)) for n in FACT_NAMES] == [
        type(getattr(case, n)) for n in FACT_NAMES
    ]


def test_what_is_not_recorded_stays_so():
    empty = CaseFacts(as_of=DAY)
    assert empty.as_json()["facts"] == {}
    assert CaseFacts.from_json(empty.as_json()) == empty
    assert CaseFacts.from_json({"as_of": "2026-11-25", "facts": {"inr": None}}) == empty
    assert words_of("tender", None) == "not recorded"
    assert words_of("tender", False) == "no"


@pytest.mark.parametrize(
    ("facts", "says"),
    [
        ({"haemoglobin": 1}, "Not a fact of a case: haemoglobin"),
        ({"neurology": "N9"}, "neurology has no code 'N9'"),
        ({"crp_mg_l": "nan"}, "crp_mg_l must be a number"),
        ({"pain_moving": True}, "pain_moving must be a number"),
        ({"pain_moving": 7.5}, "pain_moving is a whole number"),
        ({"inr": "high"}, "inr must be a number"),
        ({"tender": "yes"}, "tender is yes or no"),
        ({"antithrombotics": [["arsenic", ""]]}, "antithrombotics has no code 'arsenic'"),
    ],
)
def test_a_stored_fact_that_cannot_be_is_refused(facts, says):
    with pytest.raises(ValueError, match=says):
        CaseFacts.from_json({"as_of": "2026-11-25", "facts": facts})


def test_a_value_outside_the_plausible_range_is_read_back_as_recorded():
    case = replace(plain_case(DAY), crp_mg_l=D("1200.5"))
    assert CaseFacts.from_json(case.as_json()) == case


@pytest.mark.parametrize(
    ("recorded", "read"),
    [("220.00", "220"), ("220", "220"), ("220.50", "220.5")],
)
def test_zeros_that_a_column_adds_are_not_printed(recorded, read):
    assert str(CaseFacts(as_of=DAY, platelets_10e9_l=D(recorded)).platelets_10e9_l) == read


@pytest.mark.parametrize(
    ("recorded", "read"), [("1.60", "1.6"), ("1.00", "1.0"), ("1", "1"), ("1.65", "1.65")]
)
def test_an_inr_keeps_its_first_decimal(recorded, read):
    assert str(CaseFacts(as_of=DAY, inr=D(recorded)).inr) == read


@pytest.mark.parametrize(
    ("precision", "said"),
    [
        ("day", "05 Nov 2026"),
        ("week", "about 05 Nov 2026"),
        ("month", "Nov 2026"),
        ("year", "2026"),
    ],
)
def test_an_onset_is_told_no_finer_than_it_is_known(precision, said):
    facts = replace(plain_case(DAY), onset_precision=precision)
    result = evaluate(REGISTRY["CLOCK-01@1"], facts, shipped(DAY))
    told = {used.name: used.value for used in result.inputs}
    assert (told["onset_on"], facts.said("onset_on")) == (said, said)
