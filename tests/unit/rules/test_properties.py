"""What every rule promises: undecided when and only when something is missing, and monotone."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal as D

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planning.rules.answer import AnswerKind, overall
from planning.rules.core import REGISTRY, evaluate
from planning.rules.facts import FACT_NAMES
from planning.rules.outcomes import Stage, Verdict
from planning.rules.rulesets import RULESETS
from register.domain.protocol import shipped
from register.domain.vocabulary import EPIDURAL_GRADE, codes
from tests.strategies import AS_OF, case_facts, complete_facts, nearly_plain_cases

VALUES = shipped(date(2026, 11, 25))
RULES = list(REGISTRY.values())
UNHURRIED = settings(deadline=None)  # a busy machine is not a failure
STAGES = st.sampled_from(list(Stage))
SETS = st.sampled_from(RULESETS)

# From safe to dangerous; the order is medicine, so it is written by hand.
DANGERS = {
    "neurology": ["N0", "N1", "N2"],
    "epidural_grade": codes(EPIDURAL_GRADE),
    "infection_state": ["none", "treated", "suspected", "active"],
    "infection_signs": [("none",), ("night_pain",), ("night_pain", "fever")],
    "disc_centred": [False, True],
    "crp_mg_l": [D(4), D(10), D(200)],
    "cancer_history": ["no", "past", "active"],
    "convex_posterior_border": [False, True],
    "pedicle_signal": [False, True],
    "posterior_element_signal": [False, True],
    "epidural_mass": [False, True],
    "paraspinal_mass": [False, True],
    "other_lesions": [False, True],
    "level": ["L1", "T5", "T4", "T1"],
    "onset_on": [AS_OF - timedelta(days=days) for days in (0, 42, 43, 84, 85, 400)],
    "inr": [D("0.9"), D("1.5"), D("1.6"), D("1.8"), D("1.9"), D(9)],
    "platelets_10e9_l": [D(200), D(50), D(49), D(1)],
    "canal_percent": [0, 1, 24, 25, 100],
    "tension_band": ["intact", "suspected", "injured"],
    "translation": [False, True],
    "height_loss_percent": [D(0), D(70), D("70.1"), D(100)],
    "pain_moving": [10, 7, 6, 5, 4, 1, 0],
    "pain_trend": ["steady", "improving"],
    "tender": [True, False],
    "matches_imaging": [True, False],
    "analgesia_optimal": [True, False],
    "pregnancy": ["no", "possible", "yes"],
    "allergy_to_cement": [False, True],
    "allergy_to_contrast": [False, True],
    "levels_planned": [1, 3, 4, 9],
    "team_reviewed": [True, False],
    "bone_plan": [True, False],
}


@UNHURRIED
@given(facts=case_facts())
def test_a_rule_is_undecided_whenever_an_input_it_needs_is_missing(facts):
    for rule in RULES:
        outcome = evaluate(rule, facts, VALUES).outcome
        if outcome.verdict is not Verdict.NOT_APPLICABLE:
            missing = [name for name in rule.needs if getattr(facts, name) is None]
            assert not missing or outcome.verdict is Verdict.CANNOT_ASSESS, rule.key


@UNHURRIED
@given(facts=case_facts())
def test_an_undecided_rule_names_a_fact_that_is_not_settled(facts):
    for rule in RULES:
        outcome = evaluate(rule, facts, VALUES).outcome
        assert bool(outcome.missing) == (outcome.verdict is Verdict.CANNOT_ASSESS), rule.key
        for name in outcome.missing:
            value = getattr(facts, name)
            no_reason = name == "antithrombotics" and any(not use for _, use in value or ())
            assert value in (None, "NX") or no_reason, (rule.key, name)


@UNHURRIED
@given(facts=complete_facts())
def test_a_rule_with_all_its_facts_is_decided(facts):
    drugs = tuple((drug, use or "other") for drug, use in facts.antithrombotics)
    examined = "N0" if facts.neurology == "NX" else facts.neurology
    facts = replace(facts, neurology=examined, antithrombotics=drugs)
    for rule in RULES:
        outcome = evaluate(rule, facts, VALUES).outcome
        assert outcome.verdict is not Verdict.CANNOT_ASSESS, (rule.key, outcome.sentence)


@UNHURRIED
@given(facts=nearly_plain_cases(), name=st.sampled_from(FACT_NAMES), stage=STAGES, ruleset=SETS)
def test_removing_a_fact_never_turns_cannot_assess_into_met(facts, name, stage, ruleset):
    fewer = replace(facts, **{name: None})
    before = ruleset.evaluate(facts, VALUES, stage=stage)
    after = ruleset.evaluate(fewer, VALUES, stage=stage)
    for with_it, without in zip(before, after, strict=True):
        if with_it.verdict is Verdict.CANNOT_ASSESS:
            assert without.verdict is Verdict.CANNOT_ASSESS, with_it.rule.key
    if overall(before).kind is AnswerKind.CANNOT_ASSESS:
        assert overall(after).kind.severity >= AnswerKind.CANNOT_ASSESS.severity


@pytest.mark.parametrize("name", DANGERS)
@given(data=st.data(), stage=STAGES, ruleset=SETS)
@settings(max_examples=60, deadline=None)
def test_more_danger_never_makes_the_answer_friendlier(name, data, stage, ruleset):
    facts = data.draw(nearly_plain_cases())
    if name == "onset_on":
        facts = replace(facts, onset_precision="day")
    safe, dangerous = sorted(
        data.draw(st.tuples(*[st.integers(0, len(DANGERS[name]) - 1)] * 2), label="pair")
    )
    safer, worse = (
        overall(ruleset.evaluate(replace(facts, **{name: value}), VALUES, stage=stage))
        for value in (DANGERS[name][safe], DANGERS[name][dangerous])
    )
    assert worse.kind.severity >= safer.kind.severity, (safer.words, worse.words)


def test_every_fact_of_the_rules_is_ordered_by_danger_or_named_here_as_having_no_order():
    no_order = {
        "age_years", "sex", "cause", "onset_precision", "mechanism", "failure_criteria", "oedema",
        "no_mri_reason", "mri_equivalent", "equivalent_fresh", "posterior_wall",
        "retropulsion_mm", "end_plates", "t_score", "attenuation_hu", "antithrombotics",
    }  # fmt: skip
    read = {name for rule in RULES for name in rule.reads}
    assert read == set(FACT_NAMES)
    assert read == set(DANGERS) | no_order
