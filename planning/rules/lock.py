"""The lock of published rule sets: their digest, and their answers on both sides of every bound.

The lock covers shipped sets with the values shipped on their first day. It is
written once for a new set and never again.
"""

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any, Final

from planning.rules.core import Result
from planning.rules.facts import FACT_NAMES, CaseFacts, read_fact
from planning.rules.outcomes import Stage
from planning.rules.rulesets import RuleSet
from planning.rules.what_if import values_to_try
from register.domain.days import day_words
from register.domain.protocol import ProtocolValues, shipped

LOCK_FILE: Final = Path(__file__).with_name("rulesets.lock.json")


def plain_case(as_of: date) -> CaseFacts:
    """Return a case in which every fact is recorded and nothing speaks against a procedure."""
    return CaseFacts(
        as_of=as_of, age_years=76, sex="female", level="L1", onset_on=as_of - timedelta(days=20),
        onset_precision="day", cause="osteoporotic", mechanism="low", pain_moving=8,
        pain_trend="steady", tender=True,
        matches_imaging=True, analgesia_optimal=True, failure_criteria=("none",), oedema="partial",
        no_mri_reason="device", mri_equivalent="spect_ct", equivalent_fresh=True, neurology="N0",
        epidural_grade="0", posterior_wall="intact", retropulsion_mm=Decimal(0), canal_percent=0,
        tension_band="intact", translation=False, height_loss_percent=Decimal(30),
        infection_state="none", infection_signs=("none",), disc_centred=False,
        crp_mg_l=Decimal(4), cancer_history="no", convex_posterior_border=False,
        pedicle_signal=False, posterior_element_signal=False, epidural_mass=False,
        paraspinal_mass=False, other_lesions=False, end_plates="superior",
        t_score=Decimal("-2.8"), attenuation_hu=90, inr=Decimal("1.0"),
        platelets_10e9_l=Decimal(220), antithrombotics=(), pregnancy="no",
        allergy_to_cement=False, allergy_to_contrast=False, levels_planned=1,
        team_reviewed=True, bone_plan=True,
    )  # fmt: skip


def unusual_case(as_of: date) -> CaseFacts:
    """Return a case on which the rules turn that a plain case does not reach.

    A young patient, no MRI and no injury, an old onset known to the month, a broken wall,
    warfarin with a high INR, and neither a scan of bone density nor optimal analgesia.
    """
    return replace(
        plain_case(as_of), age_years=34, oedema=None, onset_on=as_of - timedelta(days=50),
        onset_precision="month", cause="unclear", mechanism="none", t_score=None,
        attenuation_hu=150, posterior_wall="fifth_or_more", canal_percent=20, inr=Decimal("2.4"),
        antithrombotics=(("warfarin", "venous_old"),), failure_criteria=("not_walking",),
        analgesia_optimal=False, infection_state=None,
    )  # fmt: skip


def variations(
    rules: RuleSet, base: CaseFacts, values: ProtocolValues
) -> Iterator[tuple[str, CaseFacts]]:
    """Yield each fact with a case that differs from `base` in it: not recorded, and each side."""
    for name in FACT_NAMES:
        for value in (None, *values_to_try(name, rules.rules, base, values)):
            if value != getattr(base, name):
                yield name, replace(base, **{name: value})


def lock_ruleset(rules: RuleSet) -> dict[str, Any]:
    """Return the lock of one set. Each case holds one changed fact and the answers it touches."""
    values = shipped(rules.starts_on)
    bases = (plain_case(rules.starts_on), unusual_case(rules.starts_on))
    return {
        "digest": rules.digest(),
        "values": _bounds(rules, values),
        "bases": [base.as_json() for base in bases],
        "cases": [case for n, base in enumerate(bases) for case in _cases(rules, n, base, values)],
    }


def _cases(
    rules: RuleSet, number: int, base: CaseFacts, values: ProtocolValues
) -> Iterator[dict[str, Any]]:
    yield {"base": number, "change": {}, "answers": _answers(rules, base)}
    for name, case in variations(rules, base, values):
        value = case.as_json()["facts"].get(name)
        answers = _answers(rules, case, name)
        yield {"base": number, "change": {name: value}, "answers": answers}


def read_lock() -> dict[str, Any]:
    """Return all locks by rule-set id; empty when there is no lock file yet."""
    if not LOCK_FILE.exists():
        return {}
    stored: dict[str, Any] = json.loads(LOCK_FILE.read_text(encoding="utf-8"))
    return stored


def write_lock(rules: RuleSet) -> None:
    """Add the lock of a new set to the file. Raises ValueError when the set is locked already."""
    locks = read_lock()
    if rules.id in locks:
        raise ValueError(f"{rules.id} is published and stays as it is; give the new set a new id.")
    locks[rules.id] = lock_ruleset(rules)
    LOCK_FILE.write_text(_one_case_per_line(locks), encoding="utf-8")


def differences(rules: RuleSet, lock: dict[str, Any]) -> list[str]:
    """Return in words how a set differs from its lock; empty when it is as published."""
    found = []
    if rules.digest() != lock["digest"]:
        found.append(f"{rules.id}: what the rules declare has changed.")
    values = shipped(rules.starts_on)
    if _bounds(rules, values) != lock["values"]:
        found.append(f"{rules.id}: the shipped values of {day_words(rules.starts_on)} changed.")
    bases = [CaseFacts.from_json(base) for base in lock["bases"]]
    for case in lock["cases"]:
        change = {name: read_fact(name, value) for name, value in case["change"].items()}
        now = _answers(rules, replace(bases[case["base"]], **change))
        found += [
            f"{rules.id}, {key}, {case['change']}: {answer} became {now.get(key)}."
            for key, answer in case["answers"].items()
            if now.get(key) != answer
        ]
    return found


def _bounds(rules: RuleSet, values: ProtocolValues) -> dict[str, str]:
    used = {id for rule in rules.rules for id in rule.parameters.values()}
    return {id: str(values.value(id)) for id in sorted(used)}


def _answers(rules: RuleSet, facts: CaseFacts, changed: str = "") -> dict[str, list[str | None]]:
    results = rules.evaluate(facts, shipped(rules.starts_on), stage=Stage.DAY)
    return {r.rule.key: _answer(r) for r in results if not changed or changed in r.rule.reads}


def _answer(result: Result) -> list[str | None]:
    effect = result.effect.value if result.effect else None
    return [result.verdict.value, effect, result.sentence]


def _one_case_per_line(locks: dict[str, Any]) -> str:
    """Return JSON that a reviewer can read as a difference."""
    sets = []
    for id, lock in locks.items():
        rows = [f"  {_line(key)}: {_line(lock[key])}" for key in ("digest", "values")]
        for key in ("bases", "cases"):
            rows.append(f"  {_line(key)}: [\n" + ",\n".join(map(_line, lock[key])) + "\n  ]")
        sets.append(f" {_line(id)}: {{\n" + ",\n".join(rows) + "\n }")
    return "{\n" + ",\n".join(sets) + "\n}\n"


def _line(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)
