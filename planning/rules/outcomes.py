"""What a rule can answer: verdict, effect, sentence, and what would settle the matter.

The constructors below are the vocabulary of rules: each ties a verdict to its
effect, so that no rule can say "met" and do harm.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final

from planning.rules.facts import fact_info

NOTICE: Final = (
    "This assessment supports trained clinicians and decides nothing. Local protocol and "
    "licensed practice come first; whoever decides otherwise gives a name and a reason."
)


class Verdict(StrEnum):
    """What a rule found."""

    MET = "met"
    NOT_MET = "not_met"
    NOT_APPLICABLE = "not_applicable"
    CANNOT_ASSESS = "cannot_assess"

    @property
    def words(self) -> str:
        """The verdict as pages print it."""
        return self.value.replace("_", " ")


class Stage(StrEnum):
    """When a rule is due; in this order."""

    TRIAGE = "triage"
    DECISION = "decision"
    PLAN = "plan"
    DAY = "day_of_procedure"

    @property
    def place(self) -> int:
        """0 for triage, 3 for the day of the procedure."""
        return list(Stage).index(self)

    @property
    def words(self) -> str:
        """The stage after "due by"."""
        return {0: "triage", 1: "the decision", 2: "the plan", 3: "the day of the procedure"}[
            self.place
        ]


class Effect(StrEnum):
    """What an outcome does to the overall answer; from mild to severe."""

    SUPPORTS = "supports"
    CAUTIONS = "cautions"
    NOT_YET = "not_yet"
    RULES_OUT_ROUTE = "rules_out_route"
    REFERS_URGENTLY = "refers_urgently"

    @property
    def severity(self) -> int:
        """0 for supports, 4 for an urgent referral."""
        return list(Effect).index(self)

    @property
    def words(self) -> str:
        """The effect as pages print it; nothing is ever forbidden."""
        return {
            Effect.SUPPORTS: "speaks for",
            Effect.CAUTIONS: "caution",
            Effect.NOT_YET: "not yet",
            Effect.RULES_OUT_ROUTE: "speaks against, needs a second name",
            Effect.REFERS_URGENTLY: "refers on urgently",
        }[self]


@dataclass(frozen=True, slots=True)
class Action:
    """What would settle a matter: what is done, who does it, by when (in words)."""

    what: str
    who: str
    by: str

    def __str__(self) -> str:
        return f"{self.what} ({self.who}, {self.by})"


@dataclass(frozen=True, slots=True)
class Outcome:
    """The answer of one rule.

    `effect` is what this outcome does (None: nothing); `missing` names the facts
    that are not recorded, and is never empty when the verdict is "cannot assess".
    """

    verdict: Verdict
    sentence: str
    effect: Effect | None = None
    missing: tuple[str, ...] = ()
    action: Action | None = None


def met(sentence: str) -> Outcome:
    """The requirement is met; nothing follows."""
    return Outcome(Verdict.MET, sentence)


def speaks_for(sentence: str) -> Outcome:
    """The requirement is met, and that speaks for a procedure."""
    return Outcome(Verdict.MET, sentence, Effect.SUPPORTS)


def caution(sentence: str) -> Outcome:
    """The requirement is not met: a caution."""
    return Outcome(Verdict.NOT_MET, sentence, Effect.CAUTIONS)


def not_yet(sentence: str, *, what: str, who: str, by: str) -> Outcome:
    """The requirement is not met, and can be put right: what, who, by when."""
    return Outcome(Verdict.NOT_MET, sentence, Effect.NOT_YET, action=Action(what, who, by))


def speaks_against(sentence: str) -> Outcome:
    """The requirement is not met: speaks against the routes of the rule, needs a second name."""
    return Outcome(Verdict.NOT_MET, sentence, Effect.RULES_OUT_ROUTE)


def refer_urgently(sentence: str, *, what: str, who: str) -> Outcome:
    """The requirement is not met: every elective route waits, and somebody is asked today."""
    action = Action(what, who, "today")
    return Outcome(Verdict.NOT_MET, sentence, Effect.REFERS_URGENTLY, action=action)


def undecided(*missing: str, sentence: str = "", action: Action | None = None) -> Outcome:
    """The rule cannot be assessed for want of the named facts."""
    words = listed([fact_info(name).words for name in missing])
    return Outcome(
        Verdict.CANNOT_ASSESS, sentence or f"Not recorded: {words}.", None, missing, action
    )


def not_applicable(sentence: str) -> Outcome:
    """The rule does not concern this case."""
    return Outcome(Verdict.NOT_APPLICABLE, sentence)


def listed(items: list[str]) -> str:
    """Return "a", "a and b", "a, b and c"; empty for nothing."""
    return " and ".join([", ".join(items[:-1]), items[-1]] if len(items) > 1 else items)


def shown(value: Decimal, bound: Decimal, places: int = 1) -> str:
    """Return a computed value rounded for print, never onto or across its bound.

    24.99 against 25 prints as 24.9, because 25.0 would contradict "below 25".
    A value equal to the bound prints in full.
    """
    if value == bound:
        return f"{value.normalize():f}"
    near = value.quantize(Decimal(1).scaleb(-places))
    if near != bound and (near < bound) == (value < bound):
        return str(near)
    away = "ROUND_FLOOR" if value < bound else "ROUND_CEILING"
    return str(value.quantize(near, rounding=away))
