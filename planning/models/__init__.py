"""What the rules said, what was decided, and what is planned."""

from planning.models.approach import PlannedApproach
from planning.models.assessments import Assessment, Decision, RuleResult
from planning.models.theatre import ListEntry, PlannedLevel, ProcedurePlan, TheatreSession

__all__ = [
    "Assessment",
    "Decision",
    "ListEntry",
    "PlannedApproach",
    "PlannedLevel",
    "ProcedurePlan",
    "RuleResult",
    "TheatreSession",
]
