"""The reasoning of one case as plain text, for a terminal or a letter. Nothing is stored."""

from collections.abc import Iterable, Sequence

from planning.rules.answer import Answer
from planning.rules.core import Result
from planning.rules.what_if import Change


def explanation(
    answer: Answer, results: Sequence[Result], changes: Iterable[Change], *, heading: str
) -> str:
    """Return the answer, every rule with what it looked at, and what would change the answer."""
    parts = [heading, answer.words, ""]
    for result in results:
        parts += [*_rule(result), ""]
    parts += [*_changes(changes), "", answer.notice]
    return "\n".join(parts)


def _rule(result: Result) -> list[str]:
    rule, stored = result.rule, result.as_json()
    effect = f", {result.effect.words}" if result.effect else ""
    lines = [f"{rule.title}: {result.verdict.words}{effect}", f"  {result.sentence}"]
    action = result.outcome.action
    if action and not result.due:
        lines.append(f"  To do: {action}")
    for used in stored["inputs"]:
        day = f" ({used['observed_on']})" if used["observed_on"] else ""
        lines.append(f"  - {used['words']}: {used['value']}{day}")
    lines += [f"  Source: {source['words']}" for source in stored["sources"]]
    lines.append(f"  Rule {rule.key}, due by {rule.stage.words}")
    return lines


def _changes(changes: Iterable[Change]) -> list[str]:
    lines = [
        f"- {change.words} ({change.provided_by}): {value} leads to: {answer.words}"
        for change in changes
        for value, answer in change.answers
    ]
    if not lines:
        return ["No single missing fact would change the answer."]
    return ["What would change the answer, each alone:", *lines]
