"""Every rule is published, sourced and complete, and a published set stays as it was."""

import ast
import re
from datetime import date
from pathlib import Path

import pytest

from planning.rules.core import REGISTRY
from planning.rules.facts import FACT_NAMES
from planning.rules.lock import differences, lock_ruleset, read_lock, write_lock
from planning.rules.outcomes import Effect, Stage
from planning.rules.rulesets import RULESETS, protocol_digest, ruleset
from register.domain.protocol import SourceKind, shipped, shipped_sources
from register.domain.vocabulary import PROCEDURE_ROUTES

ROOT = Path(__file__).parents[2]
VALUES = shipped(date(2026, 11, 25))
RULES = sorted(REGISTRY.values(), key=lambda rule: rule.key)
PURE = [
    path
    for folder in ("register/domain", "planning/rules")
    for path in (ROOT / folder).rglob("*.py")
]
# The tolerances of a planned needle are read beside its words.
WORDS = [ROOT / "planning/approach_words.py", ROOT / "planning/selectors/approach.py"]


@pytest.fixture(params=RULES, ids=lambda rule: rule.key)
def rule(request):
    return request.param


@pytest.mark.parametrize("rules", RULESETS, ids=lambda rules: rules.id)
def test_a_published_rule_set_never_changes(rules):
    """To change a rule: add its next version and a new rule set, then lock only that one."""
    assert differences(rules, read_lock()[rules.id]) == []


def test_every_published_set_is_locked_and_nothing_else():
    assert set(read_lock()) == {rules.id for rules in RULESETS}


def test_a_set_is_locked_once_and_reads_back_as_it_was_written(tmp_path, monkeypatch):
    monkeypatch.setattr("planning.rules.lock.LOCK_FILE", tmp_path / "lock.json")
    for rules in RULESETS:
        write_lock(rules)
    assert read_lock() == {rules.id: lock_ruleset(rules) for rules in RULESETS}
    with pytest.raises(ValueError, match="is published and stays as it is"):
        write_lock(RULESETS[0])


def test_a_changed_answer_is_noticed():
    rules = RULESETS[-1]
    lock = lock_ruleset(rules)
    case = next(case for case in lock["cases"] if "BLEEDING-01@1" in case["answers"])
    case["answers"]["BLEEDING-01@1"] = ["met", None, "INR is fine."]
    (found,) = differences(rules, lock)
    assert "BLEEDING-01@1" in found
    assert "INR is fine." in found


def test_a_changed_declaration_is_noticed():
    lock = lock_ruleset(RULESETS[0]) | {"digest": "0" * 64}
    assert differences(RULESETS[0], lock) == ["appraisal-1: what the rules declare has changed."]


def test_a_changed_value_is_noticed():
    lock = lock_ruleset(RULESETS[0])
    lock["values"]["bleeding.inr_up_to"] = "2.0"
    assert differences(RULESETS[0], lock) == [
        "appraisal-1: the shipped values of 25 Nov 2026 changed."
    ]


def test_every_rule_belongs_to_a_published_set():
    assert {r.key for rules in RULESETS for r in rules.rules} == set(REGISTRY)


def test_no_set_holds_a_rule_twice():
    for rules in RULESETS:
        ids = [r.id for r in rules.rules]
        assert len(ids) == len(set(ids))


def test_a_rule_has_stage_effect_title_and_routes(rule):
    assert rule.stage in Stage
    assert rule.effect in Effect
    assert re.fullmatch(r"[A-Z]+-\d\d", rule.id)
    assert rule.title[0].isupper()
    assert set(rule.routes) <= set(PROCEDURE_ROUTES)
    assert rule.check.__doc__


def test_a_rule_has_sources_each_with_a_kind(rule):
    assert all(shipped_sources()[key].kind in SourceKind for key in rule.sources)


def test_every_bound_of_a_rule_is_in_the_protocol_with_the_kind_of_its_source(rule):
    for id in rule.parameters.values():
        assert VALUES.entry(id).source.kind in SourceKind


def test_few_rules_decide():
    deciding = {r.id for r in RULES if r.decides}
    assert deciding == {
        "CLOCK-01", "HEALING-01", "INFECTION-01", "NEUROLOGY-01", "PAIN-01", "PAIN-02",
    }  # fmt: skip


def test_a_blood_test_is_never_asked_for_before_the_plan():
    laboratory = {"inr", "platelets_10e9_l", "crp_mg_l", "t_score", "attenuation_hu"}
    early = [r for r in RULES if r.stage.place < Stage.PLAN.place]
    assert not [r.key for r in early if laboratory & set(r.reads)]


def test_every_fact_is_read_by_a_rule():
    assert {name for r in RULES for name in r.reads} == set(FACT_NAMES)


def test_every_value_of_the_protocol_is_read_somewhere():
    code = "\n".join(path.read_text() for path in PURE + WORDS)
    assert [v.id for v in VALUES.values if f'"{v.id}"' not in code] == []


def test_every_source_is_cited():
    cited = {key for r in RULES for key in r.sources}
    cited |= {v.source.key for v in VALUES.values} | {t.source for t in VALUES.timepoints}
    assert cited == set(shipped_sources())


def test_the_shipped_protocol_names_a_published_set():
    assert ruleset(VALUES.ruleset_id) in RULESETS
    with pytest.raises(LookupError, match="published are appraisal-1, commissioning-1"):
        ruleset("home-made")


def test_an_assessment_points_to_rules_and_values_together():
    changed = VALUES.with_value(
        "rules.set", "appraisal-1", source=VALUES.entry("rules.set").source, since=VALUES.day
    )
    assert len({protocol_digest(VALUES), protocol_digest(changed)}) == 2


def test_no_rule_holds_a_threshold():
    """Numbers above 1 in the code of rules; what compares belongs to the protocol."""
    skipped = {"core.py", "facts.py", "outcomes.py", "lock.py", "answer.py", "rulesets.py"}
    found = [
        f"{path.name}:{node.lineno} {node.value}"
        for path in (ROOT / "planning/rules").glob("*.py")
        if path.name not in skipped
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Constant) and type(node.value) in (int, float) and node.value > 1
    ]
    assert found == []
