"""Which single missing fact would change the answer: found by trying its values."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

from planning.rules.answer import Answer, overall
from planning.rules.core import Result, Rule, evaluate
from planning.rules.facts import CaseFacts, FactInfo, FactKind, fact_info, words_of
from planning.rules.outcomes import Stage
from planning.rules.rulesets import RuleSet
from register.domain import vocabulary as v
from register.domain.protocol import ProtocolValues


@dataclass(frozen=True, slots=True)
class Change:
    """One missing fact whose value can change the overall answer on its own.

    `provided_by` is the test or question that yields it; `answers` holds one value
    in words for each different answer that it can lead to.
    """

    fact: str
    words: str
    provided_by: str
    answers: tuple[tuple[str, Answer], ...]


def what_would_change(
    rules: RuleSet, facts: CaseFacts, values: ProtocolValues, *, stage: Stage
) -> tuple[Change, ...]:
    """Return the missing facts that can each change the answer alone, most weighty rules first.

    Facts that undecided rules of the stage lack are tried, one at a time, with one
    value for each interval between the bounds in use. Empty when no single fact
    can change the kind of answer: either nothing can, or several are needed together.
    """
    results = rules.evaluate(facts, values, stage=stage)
    now = overall(results)
    missing = dict.fromkeys(n for r in results if r.undecided for n in r.outcome.missing)
    changes = []
    for name in missing:
        answers = _other_answers(name, now, results, facts, values, stage)
        if answers:
            info = fact_info(name)
            changes.append(Change(name, info.words, info.provided_by, answers))
    return tuple(changes)


def what_is_needed(results: Iterable[Result]) -> tuple[str, ...]:
    """Return the facts without which there is no answer at all: those of the deciding rules."""
    waiting = (r for r in results if r.undecided and r.rule.decides)
    return tuple(dict.fromkeys(name for r in waiting for name in r.outcome.missing))


def _other_answers(
    name: str,
    now: Answer,
    results: tuple[Result, ...],
    facts: CaseFacts,
    values: ProtocolValues,
    stage: Stage,
) -> tuple[tuple[str, Answer], ...]:
    found = {}
    for value in values_to_try(name, [r.rule for r in results], facts, values):
        changed = replace(facts, **{name: value})
        answer = overall(
            evaluate(r.rule, changed, values, stage=stage) if name in r.rule.reads else r
            for r in results
        )
        if answer.kind is not now.kind and answer.kind not in found:
            found[answer.kind] = (words_of(name, value), answer)
    return tuple(found.values())


def values_to_try(
    name: str, rules: Iterable[Rule], facts: CaseFacts, values: ProtocolValues
) -> tuple[Any, ...]:
    """Return at least one value of a fact for each interval between the bounds in use.

    Of drugs, one that matters to the INR and one that does not, for each reason.
    """
    info = fact_info(name)
    if info.kind is FactKind.YES_NO:
        return (True, False)
    if info.kind is FactKind.CODE:
        return tuple(v.codes(info.vocabulary))
    if info.kind is FactKind.CODES:
        return tuple((code,) for code in v.codes(info.vocabulary))
    if info.kind is FactKind.DRUGS:
        uses = v.codes(v.ANTITHROMBOTIC_INDICATION)
        return ((), *(((drug, use),) for drug in ("warfarin", "apixaban") for use in uses))
    bounds = {
        bound
        for rule in rules
        if name in rule.reads
        for id in rule.parameters.values()
        if isinstance(bound := values.value(id), Decimal)
    }
    if info.kind is FactKind.DAY:
        ages = {0, *(int(bound) + near for bound in bounds for near in (-1, 0, 1))}
        return tuple(facts.as_of - timedelta(days=age) for age in sorted(ages) if age >= 0)
    return tuple(_numbers(info, bounds))


def _numbers(info: FactInfo, bounds: set[Decimal]) -> Iterator[int | Decimal]:
    """Yield the ends of the range, and each bound with its neighbours on both sides."""
    near = {bound + step for bound in bounds for step in (-info.step, Decimal(0), info.step)}
    tried = {info.low, info.low + info.step, info.high, *near}
    for number in sorted(n for n in tried if info.low <= n <= info.high):
        yield int(number) if info.kind is FactKind.WHOLE else number
