"""A stored assessment as people read it: nothing is judged again, only put in order."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Final

from planning.freshness import Freshness
from planning.models import Assessment, RuleResult
from planning.rules.facts import FACT_NAMES, CaseFacts, fact_info
from planning.rules.outcomes import NOTICE, Effect, Stage, Verdict
from register.domain.days import day_words
from register.domain.protocol import SourceKind

# Mark and tone per effect: the word says it, the shape repeats it, the tone comes third.
_LOOK: Final = {
    Effect.REFERS_URGENTLY.value: ("square", "attention"),
    Effect.RULES_OUT_ROUTE.value: ("cross", "attention"),
    Effect.NOT_YET.value: ("half", "attention"),
    Effect.CAUTIONS.value: ("triangle", "attention"),
    Effect.SUPPORTS.value: ("full", "action"),
}
_CANNOT: Final = ("question", "attention")
_MET: Final = ("open", "")
_SILENT: Final = ("dash", "quiet")


@dataclass(frozen=True, slots=True)
class SourceWords:
    """A source for components/source_list.html."""

    citation: str
    kind: str


@dataclass(frozen=True, slots=True)
class Reason:
    """One rule: verdict word, effect, sentence, what it looked at, and where it comes from."""

    result: RuleResult
    mark: str
    tone: str
    verdict: str
    effect: str
    kinds: str
    action: str
    inputs: tuple[tuple[str, str, str], ...]
    sources: tuple[SourceWords, ...]


@dataclass(frozen=True, slots=True)
class ReasonGroup:
    """Reasons that do the same, most severe group first; `is_quiet` ones are folded away."""

    title: str
    reasons: tuple[Reason, ...]
    is_quiet: bool = False


@dataclass(frozen=True, slots=True)
class AssessmentView:
    """All that a page shows of one assessment."""

    assessment: Assessment
    freshness: Freshness | None
    groups: tuple[ReasonGroup, ...]
    mark: str
    tone: str
    stage: str
    notice: str = NOTICE

    @property
    def needed(self) -> list[dict[str, str]]:
        """Missing facts without which there is no answer at all."""
        return [entry for entry in self.assessment.missing if entry["decides"]]

    @property
    def also_missing(self) -> list[dict[str, str]]:
        """Missing facts that some rule of the stage asks for."""
        return [entry for entry in self.assessment.missing if not entry["decides"]]

    @property
    def facts(self) -> list[tuple[str, str, str]]:
        """Every recorded fact as it was read, with its day."""
        return _facts(self.assessment)


def view_of(assessment: Assessment, freshness: Freshness | None = None) -> AssessmentView:
    """Return the page of an assessment; its results must be prefetched."""
    mark, tone = _ANSWER_LOOK[assessment.answer]
    return AssessmentView(
        assessment=assessment,
        freshness=freshness,
        groups=_groups(assessment.results.all()),
        mark=mark,
        tone=tone,
        stage=Stage(assessment.stage).words,
    )


_ANSWER_LOOK: Final = {
    "urgent": ("square", "attention"),
    "ruled_out": ("cross", "attention"),
    "cannot_assess": ("question", "attention"),
    "not_yet": ("half", "attention"),
    "cautions": ("triangle", ""),
    "supports": ("full", "action"),
    "nothing_for": ("open", ""),
}

_TITLES: Final = (
    ("urgent", "Refer on now"),
    ("against", "Speaks against a procedure"),
    ("cannot", "Cannot be assessed"),
    ("not_yet", "Not yet"),
    ("cautions", "Cautions"),
    ("supports", "Speaks for a procedure"),
    ("met", "Met, nothing follows"),
    ("later", "Due later"),
    ("silent", "Does not concern this case"),
)
_QUIET: Final = ("met", "later", "silent")
_GROUP_OF: Final = {
    Effect.REFERS_URGENTLY.value: "urgent",
    Effect.RULES_OUT_ROUTE.value: "against",
    Effect.NOT_YET.value: "not_yet",
    Effect.CAUTIONS.value: "cautions",
    Effect.SUPPORTS.value: "supports",
}


def _groups(results: Iterable[RuleResult]) -> tuple[ReasonGroup, ...]:
    sorted_in: dict[str, list[Reason]] = {key: [] for key, _ in _TITLES}
    for result in results:
        sorted_in[_group(result)].append(reason_of(result))
    return tuple(
        ReasonGroup(title, tuple(sorted_in[key]), key in _QUIET)
        for key, title in _TITLES
        if sorted_in[key]
    )


def _group(result: RuleResult) -> str:
    if result.due:
        return "later"
    if result.verdict == Verdict.CANNOT_ASSESS:
        return "cannot"
    if result.verdict == Verdict.NOT_APPLICABLE:
        return "silent"
    return _GROUP_OF.get(result.effect, "met")


def reason_of(result: RuleResult) -> Reason:
    """Return one stored result in words."""
    mark, tone = _look(result)
    effect = Effect(result.effect).words if result.effect else ""
    return Reason(
        result=result,
        mark=mark,
        tone=tone,
        verdict=Verdict(result.verdict).words,
        effect="due later" if result.due else effect,
        kinds=_kinds(result),
        action=_action(result.action),
        inputs=tuple(_input(entry) for entry in result.inputs),
        sources=tuple(
            SourceWords(source["citation"], source_kind_words(source["kind"]))
            for source in result.sources
        ),
    )


def _look(result: RuleResult) -> tuple[str, str]:
    if result.due or result.verdict == Verdict.NOT_APPLICABLE:
        return _SILENT
    if result.verdict == Verdict.CANNOT_ASSESS:
        return _CANNOT
    return _LOOK.get(result.effect, _MET)


def _kinds(result: RuleResult) -> str:
    kinds = dict.fromkeys(SourceKind(source["kind"]).words for source in result.sources)
    return "; ".join(kinds)


def source_kind_words(kind: str) -> str:
    """Return how far a source can be trusted, with "confirm locally" where that is due."""
    known = SourceKind(kind)
    return f"{known.words}: confirm locally" if known.confirm_locally else known.words


def _action(action: dict[str, str]) -> str:
    if not action:
        return ""
    what = action["what"]
    return f"{what[0].upper()}{what[1:]}: {action['who']}, {action['by']}."


def _input(entry: dict[str, str]) -> tuple[str, str, str]:
    day = entry["observed_on"]
    return entry["words"], entry["value"], day_words(date.fromisoformat(day)) if day else ""


def _facts(assessment: Assessment) -> list[tuple[str, str, str]]:
    """Return the recorded facts in words; raw, when an older version knew other facts."""
    stored = assessment.facts
    try:
        facts = CaseFacts.from_json(stored)
    except (ValueError, KeyError):
        return [(name, str(value), "") for name, value in stored.get("facts", {}).items()]
    return [
        (
            fact_info(name).words,
            facts.said(name),
            day_words(facts.dates[name]) if name in facts.dates else "",
        )
        for name in FACT_NAMES
        if getattr(facts, name) is not None
    ]
