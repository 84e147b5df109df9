"""The overall answer: one finite table over what the rules said, and its words for people."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

from planning.rules.core import Result
from planning.rules.outcomes import NOTICE, Effect, listed
from register.domain.vocabulary import PROCEDURE_ROUTES, ROUTE

_NUMBER_WORDS: Final = (
    "no one two three four five six seven eight nine ten eleven twelve".split()  # noqa: SIM905
)


class AnswerKind(StrEnum):
    """The overall answer, from the friendliest to the most severe."""

    SUPPORTS = "supports"
    NOTHING_FOR = "nothing_for"
    CAUTIONS = "cautions"
    NOT_YET = "not_yet"
    CANNOT_ASSESS = "cannot_assess"
    RULED_OUT = "ruled_out"
    URGENT = "urgent"

    @property
    def severity(self) -> int:
        """0 for the friendliest; more danger never lowers it."""
        return list(AnswerKind).index(self)


@dataclass(frozen=True, slots=True)
class Answer:
    """The overall answer. `rules` are the ids that led to it; `notice` goes with every print."""

    kind: AnswerKind
    words: str
    rules: tuple[str, ...]
    notice: str = NOTICE

    def as_json(self) -> dict[str, Any]:
        """Return the answer as stored with an assessment."""
        return {
            "kind": self.kind.value,
            "words": self.words,
            "rules": list(self.rules),
            "notice": self.notice,
        }


def overall(results: Iterable[Result]) -> Answer:
    """Return the overall answer; the first row of the table that holds.

    | what the rules said                                | answer        |
    |----------------------------------------------------|---------------|
    | anything refers on urgently                        | urgent        |
    | anything speaks against                            | ruled out     |
    | a deciding rule cannot be assessed                 | cannot assess |
    | anything is not yet                                | not yet       |
    | any caution, or another rule cannot be assessed    | cautions      |
    | anything speaks for                                | supports      |
    | otherwise                                          | nothing for   |

    A rule that is not yet due counts for nothing. A fact that is not recorded
    is never read as "no": without it the answer is at best "cautions".
    """
    counted = [result for result in results if result.due is None]
    for kind in reversed(AnswerKind):
        if leading := [r for r in counted if _leads_to(kind, r)]:
            return Answer(kind, _words(kind, leading, counted), tuple(r.rule.id for r in leading))
    return Answer(AnswerKind.NOTHING_FOR, "Nothing recorded speaks for a procedure", ())


def _leads_to(kind: AnswerKind, result: Result) -> bool:
    effect, undecided, decides = result.effect, result.undecided, result.rule.decides
    return {
        AnswerKind.URGENT: effect is Effect.REFERS_URGENTLY,
        AnswerKind.RULED_OUT: effect is Effect.RULES_OUT_ROUTE,
        AnswerKind.CANNOT_ASSESS: undecided and decides,
        AnswerKind.NOT_YET: effect is Effect.NOT_YET,
        AnswerKind.CAUTIONS: effect is Effect.CAUTIONS or (undecided and not decides),
        AnswerKind.NOTHING_FOR: False,
        AnswerKind.SUPPORTS: effect is Effect.SUPPORTS,
    }[kind]


def _words(kind: AnswerKind, leading: list[Result], counted: list[Result]) -> str:
    if kind is AnswerKind.URGENT:
        actions = [r.outcome.action for r in leading if r.outcome.action]
        who = dict.fromkeys(name for action in actions for name in action.who.split(" and "))
        return f"Urgent: {listed(list(who))} first"
    if kind is AnswerKind.RULED_OUT:
        left = [words for route, words in ROUTE if route in _routes_left(leading)]
        against = f"every procedure but {listed(left)}" if left else "a procedure"
        return f"Speaks against {against}, needs a second name"
    if kind is AnswerKind.CANNOT_ASSESS:
        missing = dict.fromkeys(words for r in leading for words in r.missing)
        return f"Cannot be assessed without {listed(list(missing))}"
    if kind is AnswerKind.NOT_YET:
        return f"Not yet: {counted_words(len(leading), 'matter')} to settle"
    if kind is AnswerKind.CAUTIONS:
        return _cautious_words(leading, counted)
    return "Speaks for a procedure"


def _routes_left(leading: list[Result]) -> set[str]:
    return set(PROCEDURE_ROUTES).difference(*(result.rule.routes for result in leading))


def _cautious_words(leading: list[Result], counted: list[Result]) -> str:
    for_it = any(r.effect is Effect.SUPPORTS for r in counted)
    cautions = sum(r.effect is Effect.CAUTIONS for r in leading)
    unknown = len(dict.fromkeys(name for r in leading for name in r.outcome.missing))
    parts = [counted_words(cautions, "caution")] if cautions else []
    if unknown:
        parts.append(f"{counted_words(unknown, 'fact')} not recorded")
    start = "Speaks for a procedure" if for_it else "Nothing recorded speaks for a procedure"
    return f"{start}; {listed(parts)}"


def counted_words(number: int, noun: str) -> str:
    """Return "one fact", "two facts"; digits above twelve."""
    count = _NUMBER_WORDS[number] if number < len(_NUMBER_WORDS) else str(number)
    return f"{count} {noun}" + ("" if number == 1 else "s")
