"""The engine: a rule is a small pure function with declared metadata.

A rule is written as a requirement. Its keyword arguments are its inputs: facts
by name, and parameters of the protocol under the names given in `parameters`.
A fact that may be None is used when it is there; any other must be there, or
the engine answers "cannot assess" without calling the rule. The function
answers with one of the constructors of planning.rules.outcomes, so that verdict,
effect and the sentence for people always belong together.
"""

import inspect
import types
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any, Final, Union, get_args, get_origin, get_type_hints

from planning.rules.facts import INPUT_NAMES, CaseFacts, fact_info
from planning.rules.outcomes import Effect, Outcome, Stage, Verdict, not_applicable, undecided
from register.domain.protocol import ProtocolValues, shipped_sources
from register.domain.vocabulary import PROCEDURE_ROUTES

Applies = Callable[..., str | None]


@dataclass(frozen=True)
class Rule:
    """A declared rule. `check` is the bare function; `effects` all that its outcomes may do.

    `decides` marks the few rules without which there is no answer at all;
    `routes` the procedure routes that "speaks against" means.
    """

    id: str
    version: int
    title: str
    stage: Stage
    effect: Effect
    effects: tuple[Effect, ...]
    sources: tuple[str, ...]
    parameters: Mapping[str, str]
    check: Callable[..., Outcome]
    applies: Applies | None
    decides: bool
    routes: tuple[str, ...]

    @property
    def key(self) -> str:
        """Id and version, for example NEUROLOGY-01@1."""
        return f"{self.id}@{self.version}"

    @cached_property
    def inputs(self) -> Mapping[str, bool]:
        """Facts among the arguments of the function, each with whether it must be recorded."""
        return _facts_asked(self.check, self.parameters)

    @cached_property
    def scope(self) -> tuple[str, ...]:
        """Arguments of the function that says whether the rule concerns a case."""
        return tuple(inspect.signature(self.applies).parameters) if self.applies else ()

    @cached_property
    def compares_with(self) -> Mapping[str, str]:
        """Parameters that the function itself takes; the others belong to the scope."""
        takes = inspect.signature(self.check).parameters
        return {argument: id for argument, id in self.parameters.items() if argument in takes}

    @cached_property
    def needs(self) -> tuple[str, ...]:
        """Facts without which the rule cannot be assessed, in the order of its arguments."""
        return tuple(name for name, needed in self.inputs.items() if needed)

    @cached_property
    def uses(self) -> tuple[str, ...]:
        """Facts that the rule uses when they are there."""
        return tuple(name for name, needed in self.inputs.items() if not needed)

    @cached_property
    def reads(self) -> tuple[str, ...]:
        """Every fact that can change the outcome; the day of the assessment is not one."""
        names = (*self.inputs, *self.scope)
        return tuple(n for n in dict.fromkeys(names) if n not in ("as_of", *self.parameters))

    def declared(self) -> dict[str, Any]:
        """Return everything declared, for the digest of a rule set. Function source is not."""
        return {
            "id": self.id,
            "version": self.version,
            "title": self.title,
            "stage": self.stage.value,
            "effects": [effect.value for effect in self.effects],
            "sources": list(self.sources),
            "parameters": dict(sorted(self.parameters.items())),
            "needs": list(self.needs),
            "uses": list(self.uses),
            "reads": list(self.reads),
            "decides": self.decides,
            "routes": list(self.routes),
        }


REGISTRY: Final[dict[str, Rule]] = {}


def rule(
    *,
    id: str,
    version: int,
    title: str,
    stage: Stage,
    effect: Effect,
    sources: tuple[str, ...],
    also: tuple[Effect, ...] = (),
    parameters: Mapping[str, str] | None = None,
    applies: Applies | None = None,
    decides: bool = False,
    routes: tuple[str, ...] = PROCEDURE_ROUTES,
) -> Callable[[Callable[..., Outcome]], Rule]:
    """Declare a rule over a function whose keyword arguments are its inputs.

    `effect` is the most severe thing it can say, `also` everything else.
    `applies` is a function of facts and parameters that returns why the rule does
    not concern a case, or None. Raises TypeError for an unknown input, a missing
    or unknown source, or an id and version used twice.
    """

    def declare(function: Callable[..., Outcome]) -> Rule:
        declared = Rule(
            id, version, title, stage, effect, (effect, *also), sources,
            dict(parameters or {}), function, applies, decides, routes,
        )  # fmt: skip
        _refuse_nonsense(declared)
        REGISTRY[declared.key] = declared
        return declared

    return declare


def _refuse_nonsense(declared: Rule) -> None:
    asked = {*inspect.signature(declared.check).parameters, *declared.scope}
    if unknown := asked - {*INPUT_NAMES, *declared.parameters}:
        raise TypeError(f"{declared.key}: no fact is called {', '.join(sorted(unknown))}.")
    if unused := set(declared.parameters) - asked:
        raise TypeError(f"{declared.key}: {', '.join(sorted(unused))} is not an argument.")
    if not declared.sources or set(declared.sources) - set(shipped_sources()):
        raise TypeError(f"{declared.key}: name at least one source, each from sources.toml.")
    if max(declared.effects, key=lambda e: e.severity) is not declared.effect:
        raise TypeError(f"{declared.key}: effect is the most severe one.")
    if declared.key in REGISTRY:
        raise TypeError(f"{declared.key}: declared twice; give it the next version.")


def _facts_asked(function: Callable[..., Any], parameters: Mapping[str, str]) -> dict[str, bool]:
    hints = get_type_hints(function)
    names = [n for n in inspect.signature(function).parameters if n not in parameters]
    return {name: not _may_be_none(hints[name]) for name in names}


def _may_be_none(hint: Any) -> bool:
    return get_origin(hint) in (Union, types.UnionType) and type(None) in get_args(hint)


@dataclass(frozen=True, slots=True)
class InputUsed:
    """One fact that a rule looked at, as recorded, with the day of the observation if known."""

    name: str
    words: str
    value: str
    observed_on: date | None

    def as_json(self) -> dict[str, str | None]:
        """Return the input as stored with an assessment."""
        day = self.observed_on.isoformat() if self.observed_on else None
        return {"name": self.name, "words": self.words, "value": self.value, "observed_on": day}


@dataclass(frozen=True, slots=True)
class BoundUsed:
    """One value of the protocol that a rule compared with, with its source in words."""

    id: str
    words: str
    source: str
    kind: str

    def as_json(self) -> dict[str, str]:
        """Return the bound as stored with an assessment."""
        return {"id": self.id, "words": self.words, "source": self.source, "kind": self.kind}


@dataclass(frozen=True, slots=True)
class Result:
    """The outcome of one rule for one case, with all it looked at.

    `due` is the stage by which the rule is due when that lies ahead and the
    outcome does not count yet; None when it counts.
    """

    rule: Rule
    outcome: Outcome
    facts: CaseFacts
    values: ProtocolValues
    due: Stage | None = None

    @property
    def inputs(self) -> tuple[InputUsed, ...]:
        """Every fact the rule looked at, as recorded, also those that are not."""
        case = self.facts
        return tuple(
            InputUsed(n, fact_info(n).words, case.said(n), case.dates.get(n))
            for n in self.rule.reads
        )

    @property
    def bounds(self) -> tuple[BoundUsed, ...]:
        """Every value of the protocol that the rule compared with."""
        entries = [self.values.entry(id) for id in self.rule.parameters.values()]
        return tuple(BoundUsed(e.id, e.words, e.source.words, e.source.kind.value) for e in entries)

    @property
    def verdict(self) -> Verdict:
        """The verdict of the outcome."""
        return self.outcome.verdict

    @property
    def effect(self) -> Effect | None:
        """What the outcome does to the overall answer; None for nothing, or not yet due."""
        return None if self.due else self.outcome.effect

    @property
    def missing(self) -> tuple[str, ...]:
        """The facts that are missing, in words."""
        return tuple(fact_info(name).words for name in self.outcome.missing)

    @property
    def sentence(self) -> str:
        """The sentence for people; for a rule that is not due yet, by when it is."""
        said = self.outcome.sentence
        return f"Due by {self.due.words}. {said}" if self.due else said

    @property
    def undecided(self) -> bool:
        """True when the rule is due and cannot be assessed."""
        return self.due is None and self.verdict is Verdict.CANNOT_ASSESS

    def as_json(self) -> dict[str, Any]:
        """Return the result as stored with an assessment, wording included."""
        action = self.outcome.action
        sources = [shipped_sources()[key] for key in self.rule.sources]
        return {
            "rule": self.rule.id,
            "version": self.rule.version,
            "title": self.rule.title,
            "stage": self.rule.stage.value,
            "verdict": self.verdict.value,
            "effect": self.effect.value if self.effect else None,
            "due": self.due.value if self.due else None,
            "sentence": self.sentence,
            "missing": list(self.outcome.missing),
            "missing_words": list(self.missing),
            "inputs": [used.as_json() for used in self.inputs],
            "bounds": [bound.as_json() for bound in self.bounds],
            "action": {"what": action.what, "who": action.who, "by": action.by} if action else None,
            "sources": [{**source.as_json(), "words": source.words} for source in sources],
        }


def evaluate(
    rule: Rule, facts: CaseFacts, values: ProtocolValues, *, stage: Stage = Stage.DAY
) -> Result:
    """Judge one rule for one case with the values of one protocol, at one stage.

    A rule of a later stage is only marked as due, unless what is already
    recorded speaks: an INR that is too high counts from the day it is known.
    """
    outcome = _outcome(rule, facts, values)
    return Result(rule, outcome, facts, values, due_stage(rule, outcome, stage))


def due_stage(rule: Rule, outcome: Outcome, stage: Stage) -> Stage | None:
    """Return the stage by which a rule is due when its outcome does not count yet, else None."""
    speaks = outcome.verdict is Verdict.NOT_MET and outcome.effect is not None
    ahead = rule.stage.place > stage.place and outcome.verdict is not Verdict.NOT_APPLICABLE
    return rule.stage if ahead and not speaks else None


def _outcome(rule: Rule, facts: CaseFacts, values: ProtocolValues) -> Outcome:
    if rule.applies is not None:
        ids = rule.parameters
        asked = {n: values.value(ids[n]) if n in ids else getattr(facts, n) for n in rule.scope}
        why_not = rule.applies(**asked)
        if why_not is not None:
            return not_applicable(why_not)
    inputs = {name: getattr(facts, name) for name in rule.inputs}
    missing = [name for name in rule.needs if inputs[name] is None]
    if missing:
        return undecided(*missing)
    bounds = {argument: values.value(id) for argument, id in rule.compares_with.items()}
    outcome = rule.check(**inputs, **bounds)
    if outcome.effect is not None and outcome.effect not in rule.effects:
        raise TypeError(f"{rule.key} answered {outcome.effect!r}, which it does not declare.")
    return outcome
