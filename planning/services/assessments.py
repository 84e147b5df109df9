"""Assessing a fracture: the rules in force, applied once, with all evidence kept."""

from collections.abc import Sequence
from datetime import date
from functools import cache
from typing import Any

from django.conf import settings

from planning.errors import PlanningError
from planning.evidence import Evidence, evidence_of
from planning.facts import facts_from
from planning.models import Assessment, RuleResult
from planning.rules.answer import overall
from planning.rules.core import Result
from planning.rules.facts import CaseFacts, fact_info
from planning.rules.outcomes import Stage
from planning.rules.what_if import Change, what_would_change
from planning.services.protocols import InForce, in_force
from planning.stages import stage_of
from register.domain.clock import onset_range
from register.domain.days import day_words
from register.history import acting
from register.models import Fracture, User

EMPTY_LISTS = {"missing", "would_change"}  # an empty list is an answer here


def assessment_record(
    *, fracture: Fracture, made_by: User, as_of: date, stage: Stage | None = None
) -> Assessment:
    """Judge a fracture by the rules in force on a day and keep facts, wording and digests.

    `stage` None means the stage the fracture is in. Nothing is ever changed:
    assessing again adds a row. Raises PlanningError for a voided fracture and
    for an onset after the day.
    """
    evidence = evidence_of(fracture, on=as_of)
    facts = facts_from(evidence, on=as_of)
    _refuse(fracture, facts)
    current = in_force(fracture.patient.site, as_of)
    judged_at = stage or stage_of(evidence, on=as_of)
    results = current.rules.evaluate(facts, current.values, stage=judged_at)
    changes = what_would_change(current.rules, facts, current.values, stage=judged_at)
    with acting(made_by, "Assessment"):
        assessment = _assessment(evidence, facts, current, judged_at, results, changes, made_by)
        assessment.full_clean(exclude=EMPTY_LISTS)
        assessment.save()
        RuleResult.objects.bulk_create(
            _result(assessment, place, result) for place, result in enumerate(results, start=1)
        )
    return assessment


def _refuse(fracture: Fracture, facts: CaseFacts) -> None:
    if fracture.voided_at is not None:
        raise PlanningError(
            code="fracture-voided",
            message="This fracture was entered by mistake and voided.",
            hint="Assess another fracture of the patient.",
        )
    if facts.onset_on is not None:
        earliest, _ = onset_range(facts.onset_on, facts.onset_precision or "day")
        if earliest > facts.as_of:
            raise PlanningError(
                code="onset-after-assessment",
                message=f"The onset, {facts.said('onset_on')}, lies after "
                f"{day_words(facts.as_of)}.",
                hint="Correct the onset of the fracture, then assess.",
            )


def _assessment(
    evidence: Evidence,
    facts: CaseFacts,
    current: InForce,
    stage: Stage,
    results: Sequence[Result],
    changes: Sequence[Change],
    made_by: User,
) -> Assessment:
    answer = overall(results)
    return Assessment(
        fracture=evidence.fracture,
        protocol=current.protocol,
        made_by=made_by,
        as_of=facts.as_of,
        stage=stage.value,
        ruleset_id=current.rules.id,
        ruleset_digest=current.rules.digest(),
        facts=facts.as_json(),
        answer=answer.kind.value,
        answer_words=answer.words,
        missing=missing_json(results),
        would_change=[_change(change) for change in changes],
        code_version=code_version(),
    )


def missing_json(results: Sequence[Result]) -> list[dict[str, Any]]:
    """Return the facts that undecided rules lack, once each, in the order of the rules.

    `decides` is true for a fact without which there is no answer at all.
    """
    found: dict[str, bool] = {}
    for result in results:
        if result.undecided:
            for name in result.outcome.missing:
                found[name] = found.get(name, False) or result.rule.decides
    return [
        {
            "fact": name,
            "words": fact_info(name).words,
            "provided_by": fact_info(name).provided_by,
            "decides": decides,
        }
        for name, decides in found.items()
    ]


def _change(change: Change) -> dict[str, Any]:
    return {
        "fact": change.fact,
        "words": change.words,
        "provided_by": change.provided_by,
        "answers": [
            {"value": value, "kind": answer.kind.value, "words": answer.words}
            for value, answer in change.answers
        ],
    }


def _result(assessment: Assessment, place: int, result: Result) -> RuleResult:
    stored = result.as_json()
    return RuleResult(
        assessment=assessment,
        place=place,
        rule_id=stored["rule"],
        rule_version=stored["version"],
        title=stored["title"],
        stage=stored["stage"],
        effect=stored["effect"] or "",
        verdict=stored["verdict"],
        sentence=stored["sentence"],
        sources=stored["sources"],
        inputs=stored["inputs"],
        missing=[
            {"fact": fact, "words": words}
            for fact, words in zip(stored["missing"], stored["missing_words"], strict=True)
        ],
        due=stored["due"] or "",
        action=stored["action"] or {},
    )


@cache
def code_version() -> str:
    """Return the commit of the running code; blank where it was installed without one."""
    head = settings.BASE_DIR / ".git" / "HEAD"
    if not head.is_file():
        return ""
    named = head.read_text(encoding="ascii").strip()
    if not named.startswith("ref: "):
        return named[:12]
    branch = settings.BASE_DIR / ".git" / named.removeprefix("ref: ")
    return branch.read_text(encoding="ascii").strip()[:12] if branch.is_file() else ""
