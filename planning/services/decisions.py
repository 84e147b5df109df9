"""Deciding: what a team chose for one fracture, by name and with the reason."""

from datetime import date
from typing import Any, Final

from planning.errors import PlanningError
from planning.evidence import evidence_of
from planning.facts import facts_from
from planning.freshness import Freshness, freshness
from planning.models import Assessment, Decision, ListEntry, ProcedurePlan
from planning.rules.core import REGISTRY
from planning.rules.outcomes import Effect, Stage
from planning.services.protocols import in_force
from planning.stages import stage_of
from register.domain.days import day_words
from register.domain.vocabulary import PROCEDURE_ROUTES, ROUTE, words_for
from register.history import acting
from register.models import Fracture, User
from register.permissions import may
from register.services.editing import update_row

# What becomes of a fracture by each route; procedures put it among those to be planned.
STATE_AFTER: Final = {
    "conservative": "conservative",
    "investigate": "waiting",
    "urgent_spinal": "transferred",
    **dict.fromkeys(PROCEDURE_ROUTES, "listed"),
}
_OVER: Final = ("treated", "old", "closed")


def newest_assessment(fracture: Fracture) -> Assessment | None:
    """Return the newest live assessment of a fracture with its results; None before the first."""
    rows = Assessment.objects.live().filter(fracture=fracture).order_by("-created_at", "-pk")
    return rows.select_related("protocol", "made_by").prefetch_related("results").first()


def freshness_of(assessment: Assessment, *, on: date) -> Freshness:
    """Return whether an assessment still stands on a day."""
    fracture = assessment.fracture
    evidence = evidence_of(fracture, on=on)
    return freshness(
        assessment,
        facts=facts_from(evidence, on=on),
        stage=stage_of(evidence, on=on),
        in_force=in_force(fracture.patient.site, on),
    )


def rules_against(assessment: Assessment | None, route: str) -> list[dict[str, Any]]:
    """Return the rules that a route goes against, with the sentences that were shown.

    A rule that refers on urgently speaks against every route but the urgent
    opinion; one that speaks against a procedure only against the routes it names.
    """
    if assessment is None:
        return []
    return [
        {
            "rule": result.rule_id,
            "version": result.rule_version,
            "title": result.title,
            "effect": result.effect,
            "sentence": result.sentence,
        }
        for result in assessment.results.all()
        if _speaks_against(result, route)
    ]


def _speaks_against(result: Any, route: str) -> bool:
    if result.effect == Effect.REFERS_URGENTLY:
        return route != "urgent_spinal"
    rule = REGISTRY.get(f"{result.rule_id}@{result.rule_version}")
    routes = rule.routes if rule else PROCEDURE_ROUTES
    return result.effect == Effect.RULES_OUT_ROUTE and route in routes


def decision_record(
    *,
    fracture: Fracture,
    route: str,
    reason: str,
    decided_on: date,
    made_by: User,
    assessment: Assessment | None = None,
    second_name: User | None = None,
    team_meeting_on: date | None = None,
    team_present: str = "",
    expected_version: int | None = None,
) -> Decision:
    """Store a decision and move the fracture on, in one transaction.

    `assessment` is the one that was shown; a procedure needs one that still
    stands. `expected_version` is the version of the fracture that the person
    saw (None: the one given). Raises PlanningError for what stands in the way,
    ValidationError for an incomplete entry, and EditConflict when the fracture
    was changed in the meantime.
    """
    _refuse_place(fracture, route)
    _refuse_names(fracture, made_by, second_name)
    if route in PROCEDURE_ROUTES:
        _refuse_without_assessment(assessment, decided_on)
    against = rules_against(assessment, route)
    if against and second_name is None:
        raise second_name_missing(against)
    with acting(made_by, "Decision recorded"):
        decision = Decision(
            fracture=fracture,
            assessment=assessment,
            route=route,
            reason=reason,
            decided_on=decided_on,
            made_by=made_by,
            against_rules=against,
            second_name=second_name,
            team_meeting_on=team_meeting_on,
            team_present=team_present,
        )
        decision.full_clean()
        decision.save()
        fracture.state = STATE_AFTER[route]
        version = fracture.version if expected_version is None else expected_version
        update_row(fracture, expected_version=version, fields=["state"])
        if route == "conservative":
            _follow_up(fracture, decided_on, made_by)
    return decision


def _refuse_place(fracture: Fracture, route: str) -> None:
    """Refuse what cannot be decided any more, and what would leave a case on a list."""
    if fracture.state in _OVER or fracture.voided_at is not None:
        raise PlanningError(
            code="fracture-over",
            message=f"This fracture is {fracture.get_state_display()}.",
            hint="Nothing is left to decide. If that is wrong, correct the fracture first.",
        )
    if fracture.patient.date_of_death is not None:
        raise PlanningError(
            code="patient-died",
            message=f"The patient died on {day_words(fracture.patient.date_of_death)}.",
            hint="Close the fracture, or correct the date of death.",
        )
    if route in PROCEDURE_ROUTES:
        return
    entry = ListEntry.objects.live().filter(
        state="planned", plan__levels__fracture=fracture, plan__levels__voided_at=None
    )
    if listed := entry.select_related("session").first():
        raise PlanningError(
            code="fracture-on-list",
            message=f"The fracture is on the theatre list of {day_words(listed.session.held_on)}.",
            hint="Take the case off the list with a reason, then decide.",
        )
    approved = ProcedurePlan.objects.live().filter(
        state="approved", levels__fracture=fracture, levels__voided_at=None
    )
    if approved.exclude(entries__state="done").exists():
        raise PlanningError(
            code="fracture-in-approved-plan",
            message="An approved plan holds this fracture.",
            hint="Take the approval of the plan back, then decide.",
        )


def _refuse_names(fracture: Fracture, made_by: User, second_name: User | None) -> None:
    site = fracture.patient.site_id
    if not may(made_by, "decide") or made_by.site_id != site:
        raise PlanningError(
            code="decider-not-allowed",
            message="Only a consultant of this department can decide.",
            hint="Ask a consultant to record the decision.",
        )
    if second_name is None:
        return
    if second_name == made_by or not may(second_name, "decide") or second_name.site_id != site:
        raise PlanningError(
            code="second-name-not-allowed",
            message="The second name must be another consultant of this department.",
            hint="Choose the colleague who agreed.",
        )


def _refuse_without_assessment(assessment: Assessment | None, on: date) -> None:
    if assessment is None:
        raise PlanningError(
            code="not-assessed",
            message="This fracture has not been assessed.",
            hint="Assess it first, so that what speaks against a procedure is seen.",
        )
    if Stage(assessment.stage).place < Stage.DECISION.place:
        raise PlanningError(
            code="assessed-for-triage",
            message="The assessment was made for triage only.",
            hint="Assess for the decision, then decide.",
        )
    # A meeting of yesterday may rest on an assessment of today, never on an older one.
    state = freshness_of(assessment, on=max(on, assessment.as_of))
    if not state.is_current:
        raise PlanningError(
            code="assessment-outdated",
            message="The assessment no longer stands. " + " ".join(state.reasons),
            hint="Assess again, then decide.",
        )


def second_name_missing(against: list[dict[str, Any]]) -> PlanningError:
    """Return the refusal that names the rules which this route goes against."""
    titles = "; ".join(rule["sentence"] for rule in against)
    return PlanningError(
        code="second-name-missing",
        message=f"This goes against what the assessment says: {titles}",
        hint="Add the name of another consultant who agrees, or choose another route.",
    )


def _follow_up(fracture: Fracture, decided_on: date, user: User) -> None:
    """Schedule the contacts of conservative care; those that exist already stay as they are."""
    from register.services.outcomes import reviews_schedule

    reviews_schedule(patient=fracture.patient, fracture=fracture, anchor_on=decided_on, user=user)


def route_words(route: str) -> str:
    """Return a route as people say it."""
    return words_for(ROUTE, route)
