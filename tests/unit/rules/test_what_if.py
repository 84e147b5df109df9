"""What would change the answer: equal to trying everything, and quick."""

from dataclasses import replace
from datetime import date, timedelta
from time import perf_counter

import pytest

from planning.rules.answer import overall
from planning.rules.facts import FACT_NAMES, CaseFacts, FactKind, fact_info
from planning.rules.lock import plain_case
from planning.rules.outcomes import Stage
from planning.rules.rulesets import ruleset
from planning.rules.what_if import values_to_try, what_is_needed, what_would_change
from register.domain import vocabulary as v

DAY = date(2026, 11, 25)
RULES = ruleset("commissioning-1")
UNKNOWNS = [
    ("neurology",), ("oedema",), ("onset_on",), ("onset_on", "oedema"), ("pain_moving",),
    ("epidural_grade", "pedicle_signal"), ("tension_band", "pain_trend"),
    ("inr", "antithrombotics"), ("platelets_10e9_l",), ("canal_percent",),
    ("levels_planned", "height_loss_percent"), ("infection_state", "infection_signs"),
]  # fmt: skip


def everything(name):
    """Every value a fact may take, at its finest step."""
    info = fact_info(name)
    if info.kind is FactKind.YES_NO:
        return [True, False]
    if info.kind is FactKind.CODE:
        return v.codes(info.vocabulary)
    if info.kind is FactKind.CODES:
        return [(code,) for code in v.codes(info.vocabulary)]
    if info.kind is FactKind.DRUGS:
        uses = v.codes(v.ANTITHROMBOTIC_INDICATION)
        return [(), *(((drug, use),) for drug in v.codes(v.ANTITHROMBOTIC) for use in uses)]
    if info.kind is FactKind.DAY:
        return [DAY - timedelta(days=days) for days in range(400)]
    steps = range(int((info.high - info.low) / info.step) + 1)
    whole = info.kind is FactKind.WHOLE
    return [int(n) if whole else n for n in (info.low + step * info.step for step in steps)]


def kinds_by_brute_force(facts, values, stage):
    results = RULES.evaluate(facts, values, stage=stage)
    now = overall(results)
    asked = {name for r in results if r.undecided for name in r.outcome.missing}
    reached = {
        name: {
            overall(RULES.evaluate(replace(facts, **{name: x}), values, stage=stage)).kind
            for x in everything(name)
        }
        - {now.kind}
        for name in asked
    }
    return {name: kinds for name, kinds in reached.items() if kinds}


@pytest.mark.parametrize("unknown", UNKNOWNS, ids="-".join)
@pytest.mark.parametrize("stage", [Stage.DECISION, Stage.PLAN])
def test_it_equals_brute_force(values, unknown, stage):
    base = replace(plain_case(DAY), posterior_wall="under_fifth", no_mri_reason=None)
    facts = replace(base, **dict.fromkeys(unknown))
    found = what_would_change(RULES, facts, values, stage=stage)
    assert {c.fact: {a.kind for _, a in c.answers} for c in found} == kinds_by_brute_force(
        facts, values, stage
    )


def test_it_says_in_words_what_to_obtain_and_where_it_leads(values):
    facts = replace(plain_case(DAY), neurology=None)
    (change,) = what_would_change(RULES, facts, values, stage=Stage.TRIAGE)
    assert (change.words, change.provided_by) == (
        "neurological grade",
        "a neurological examination",
    )
    assert [(value, answer.words) for value, answer in change.answers] == [
        ("N0 intact", "Speaks for a procedure"),
        ("N1 transient deficit, recovered", "Speaks for a procedure; one caution"),
        ("N2 nerve root", "Urgent: spinal surgeon first"),
    ]


def test_both_sides_of_every_bound_are_tried(values):
    tried = values_to_try("inr", RULES.rules, plain_case(DAY), values)
    assert [str(value) for value in tried] == [
        "0.5", "0.6", "1.4", "1.5", "1.6", "1.7", "1.8", "1.9", "20",
    ]  # fmt: skip
    ages = [
        (DAY - day).days for day in values_to_try("onset_on", RULES.rules, plain_case(DAY), values)
    ]
    assert ages == [0, 41, 42, 43, 83, 84, 85]


def test_nothing_missing_changes_nothing(values):
    assert what_would_change(RULES, plain_case(DAY), values, stage=Stage.DAY) == ()


def test_where_the_answer_is_settled_no_single_fact_changes_it(values):
    facts = replace(plain_case(DAY), neurology="N4", inr=None, onset_on=None)
    assert what_would_change(RULES, facts, values, stage=Stage.DAY) == ()


def test_a_fact_that_is_not_due_is_not_asked_for(values):
    facts = replace(plain_case(DAY), inr=None)
    assert what_would_change(RULES, facts, values, stage=Stage.DECISION) == ()
    (change,) = what_would_change(RULES, facts, values, stage=Stage.PLAN)
    assert change.fact == "inr"


def test_facts_that_are_needed_together_are_named(values):
    facts = replace(plain_case(DAY), onset_on=None, oedema=None, no_mri_reason=None, inr=None)
    assert what_is_needed(RULES.evaluate(facts, values, stage=Stage.DAY)) == ("onset_on", "oedema")


def test_the_worst_case_is_quick_enough_for_a_page(values):
    """Every fact unknown but those of the deciding rules; 0.5 s is ten times what it takes."""
    decides = {name for rule in RULES.rules if rule.decides for name in rule.reads}
    unknown = {name: None for name in FACT_NAMES if name not in decides}
    begun = perf_counter()
    changes = what_would_change(RULES, replace(plain_case(DAY), **unknown), values, stage=Stage.DAY)
    assert len(changes) > 10
    assert perf_counter() - begun < 0.5


def test_an_empty_case_asks_for_what_decides(values):
    results = RULES.evaluate(CaseFacts(as_of=DAY), values, stage=Stage.TRIAGE)
    assert what_is_needed(results) == (
        "pain_moving", "neurology", "infection_state", "onset_on", "oedema",
    )  # fmt: skip
