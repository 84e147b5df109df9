"""The one thing to do next for a waiting fracture."""

from dataclasses import dataclass

from django.urls import reverse

from planning.evidence import Evidence
from planning.freshness import Freshness
from planning.models import Assessment, ListEntry, ProcedurePlan
from planning.rules.answer import AnswerKind
from planning.rules.outcomes import Stage
from register.domain.days import day_words
from register.domain.vocabulary import PROCEDURE_ROUTES


@dataclass(frozen=True, slots=True)
class NextStep:
    """What to press and where it leads; `is_post` for what changes something at once.

    `why` says in words what stands behind it; blank when the step speaks for itself.
    `right` is the right that the step needs.
    """

    words: str
    url: str
    right: str = "see_patients"
    is_post: bool = False
    why: str = ""


def next_step(
    evidence: Evidence, assessment: Assessment | None, freshness: Freshness | None
) -> NextStep:
    """Return the next step, by what has been assessed, decided and planned."""
    fracture, decision = evidence.fracture, evidence.decision
    assess = reverse("assess", args=[fracture.pk])
    if decision is not None and decision.route in PROCEDURE_ROUTES:
        if freshness is not None and not freshness.is_current:
            return NextStep("Assess again", assess, "assess", True, freshness.reasons[0])
        return _plan_step(evidence)
    if assessment is None or freshness is None:
        return NextStep("Assess", assess, "assess", True, "Not assessed yet.")
    if not freshness.is_current:
        return NextStep("Assess again", assess, "assess", True, freshness.reasons[0])
    return _decide_step(evidence, assessment)


def _decide_step(evidence: Evidence, assessment: Assessment) -> NextStep:
    fracture, decision = evidence.fracture, evidence.decision
    if decision is not None and decision.assessment_id == assessment.pk:
        since = f"{decision.get_route_display()} since {day_words(decision.decided_on)}."
        return NextStep("Follow up", record_url(evidence), why=since.capitalize())
    if assessment.answer == AnswerKind.CANNOT_ASSESS:
        return NextStep("Complete", f"{record_url(evidence)}#missing", why=assessment.answer_words)
    if assessment.stage == Stage.TRIAGE and assessment.answer != AnswerKind.URGENT:
        assess = reverse("assess", args=[fracture.pk])
        return NextStep("Assess again", assess, "assess", True, "Assessed for triage only.")
    decide = reverse("decide", args=[fracture.pk])
    return NextStep("Decide", decide, "decide", why=f"{assessment.answer_words}.")


def _plan_step(evidence: Evidence) -> NextStep:
    plan = evidence.plan
    if plan is None:
        return NextStep("Plan", reverse("plan-new", args=[evidence.fracture.patient_id]))
    url = reverse("plan", args=[plan.pk])
    if plan.state == "draft":
        return NextStep("Finish plan", url, why="The plan is a draft.")
    entry = planned_entry(plan)
    if entry is None:
        return NextStep("Put on a list", url, why="The plan is approved.")
    listed = f"On the list of {day_words(entry.session.held_on)}."
    return NextStep("See list", reverse("theatre-session", args=[entry.session_id]), why=listed)


def planned_entry(plan: ProcedurePlan) -> ListEntry | None:
    """Return the place of a plan on a list; None while it has none."""
    return next((e for e in plan.entries.all() if e.state == "planned"), None)


def record_url(evidence: Evidence) -> str:
    """Return the address of the record with this fracture chosen."""
    record = reverse("patient-record", args=[evidence.fracture.patient_id])
    return f"{record}?fracture={evidence.fracture.pk}"
