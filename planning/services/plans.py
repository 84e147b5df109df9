"""Writing plans: how one patient is to be treated in one session."""

from collections.abc import Sequence
from typing import Any

from django.utils import timezone

from planning.errors import PlanningError
from planning.models import Decision, PlannedLevel, ProcedurePlan
from register.domain.vocabulary import PROCEDURE_ROUTES
from register.history import acting
from register.models import Fracture, Patient, Technique, User
from register.services.editing import update_row


def decision_in_force(fracture: Fracture) -> Decision | None:
    """The newest live decision of a fracture; None when nobody decided yet."""
    return Decision.objects.live().filter(fracture=fracture).first()


def expected_minutes(technique: Technique, levels: int) -> int | None:
    """Minutes by the technique's own figures; None while the department has not given them."""
    if technique.typical_minutes is None:
        return None
    return technique.typical_minutes + (technique.minutes_per_further_level or 0) * (levels - 1)


def plan_create(
    *,
    patient: Patient,
    technique: Technique,
    levels: Sequence[dict[str, Any]],
    user: User,
    **fields: Any,
) -> ProcedurePlan:
    """Draft a plan. Each level is a dict with `fracture` and the fields of PlannedLevel.

    Raises PlanningError when there is no level, or a level without a decision
    for a procedure.
    """
    if not levels:
        raise PlanningError(
            code="plan-without-level",
            message="The plan names no level.",
            hint="Choose at least one fracture that was decided for a procedure.",
        )
    if fields.get("expected_minutes") is None:
        fields["expected_minutes"] = expected_minutes(technique, len(levels))
    with acting(user, "Plan drafted"):
        plan = ProcedurePlan(patient=patient, technique=technique, **fields)
        plan.full_clean()
        plan.save()
        for level in levels:
            _level_add(plan, **level)
    return plan


def _level_add(plan: ProcedurePlan, *, fracture: Fracture, **fields: Any) -> PlannedLevel:
    decision = decision_in_force(fracture)
    if decision is None or decision.route not in PROCEDURE_ROUTES:
        raise PlanningError(
            code="level-not-decided",
            message=f"{fracture.level} has no decision for a procedure.",
            hint="Record the decision first, then plan.",
        )
    level = PlannedLevel(plan=plan, fracture=fracture, decision=decision, **fields)
    level.full_clean()
    level.save()
    return level


def plan_change(
    *, plan: ProcedurePlan, expected_version: int, user: User, **fields: Any
) -> ProcedurePlan:
    """Change a draft. An approved plan is taken back to draft first, visibly."""
    refuse_approved(plan)
    with acting(user, "Plan changed"):
        for name, value in fields.items():
            setattr(plan, name, value)
        update_row(plan, expected_version=expected_version, fields=list(fields))
    return plan


def level_change(
    *, level: PlannedLevel, expected_version: int, user: User, **fields: Any
) -> PlannedLevel:
    """Change one level of a draft plan."""
    refuse_approved(level.plan)
    with acting(user, "Planned level changed"):
        for name, value in fields.items():
            setattr(level, name, value)
        update_row(level, expected_version=expected_version, fields=list(fields))
    return level


def refuse_approved(plan: ProcedurePlan) -> None:
    """Raise PlanningError when a plan is approved: it is not changed, but reopened first."""
    if plan.state == "approved":
        raise PlanningError(
            code="plan-approved",
            message="The plan is approved and cannot be changed.",
            hint="Take the approval back first; whoever approved it will see that.",
        )


def plan_gaps(plan: ProcedurePlan) -> list[str]:
    """What a plan still lacks before it can be approved, in words. Empty when complete."""
    gaps = []
    if not plan.anaesthesia:
        gaps.append("anaesthesia")
    if plan.expected_minutes is None:
        gaps.append("expected minutes")
    if plan.technique.is_new_here and not plan.technique.approved_on:
        gaps.append("approval of the technique, which is new here")
    for level in plan.levels.all():
        if level.voided_at is not None:
            continue
        if not level.side:
            gaps.append(f"side of {level.fracture.level}")
        newest = decision_in_force(level.fracture)
        if newest is None or newest.route not in PROCEDURE_ROUTES:
            gaps.append(f"a decision for a procedure of {level.fracture.level}: it was changed")
    return gaps


def plan_approve(*, plan: ProcedurePlan, expected_version: int, user: User) -> ProcedurePlan:
    """Approve a complete draft in the name of `user`. PlanningError names what is missing."""
    gaps = plan_gaps(plan)
    if gaps:
        raise PlanningError(
            code="plan-incomplete",
            message=f"The plan lacks: {', '.join(gaps)}.",
            hint="Fill these in, then approve.",
        )
    with acting(user, "Plan approved"):
        plan.state, plan.approved_by, plan.approved_at = "approved", user, timezone.now()
        update_row(
            plan, expected_version=expected_version, fields=["state", "approved_by", "approved_at"]
        )
    return plan


def plan_reopen(
    *, plan: ProcedurePlan, expected_version: int, user: User, reason: str
) -> ProcedurePlan:
    """Take an approval back, with a reason. Refused while the plan stands on a list."""
    if plan.entries.filter(state="planned", voided_at=None).exists():
        raise PlanningError(
            code="plan-listed",
            message="The plan stands on a theatre list.",
            hint="Take it off the list first, then reopen the plan.",
        )
    with acting(user, reason):
        plan.state, plan.approved_by, plan.approved_at = "draft", None, None
        update_row(
            plan, expected_version=expected_version, fields=["state", "approved_by", "approved_at"]
        )
    return plan
