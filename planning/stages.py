"""Which rules are due for a fracture now: the stage follows from what has been recorded."""

from datetime import date

from planning.evidence import Evidence
from planning.rules.outcomes import Stage
from register.domain.vocabulary import PROCEDURE_ROUTES


def stage_of(evidence: Evidence, *, on: date) -> Stage:
    """Return the stage of a fracture on a day.

    Triage until somebody has read images of this level; the decision until a
    procedure is decided; then the plan; on the day of its session that day.
    """
    decision = evidence.decision
    if decision is not None and decision.route in PROCEDURE_ROUTES:
        return Stage.DAY if on in _listed_days(evidence) else Stage.PLAN
    return Stage.DECISION if evidence.readings else Stage.TRIAGE


def _listed_days(evidence: Evidence) -> set[date]:
    if evidence.plan is None:
        return set()
    return {e.session.held_on for e in evidence.plan.entries.all() if e.state == "planned"}
