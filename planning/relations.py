"""The relations of the rules and plans: what they say about whose the row is."""

from typing import Final

from register.domain.relations import PART, Relation, agrees, own

RELATIONS: Final[dict[str, Relation]] = {
    "planning.ProcedurePlan.patient": own("plan", "plans"),
    "planning.PlannedLevel.plan": PART,
    "planning.PlannedApproach.level": PART,
    "planning.ListEntry.plan": PART,
    "planning.Assessment.fracture": PART,
    "planning.RuleResult.assessment": PART,
    "planning.Decision.fracture": PART,
    "planning.Decision.assessment": agrees("rests on"),
    "planning.PlannedLevel.fracture": agrees("is for"),
    "planning.PlannedLevel.decision": agrees("is for"),
    "planning.ListEntry.procedure": agrees("led to"),
}
