"""From the list to the record of what was done."""

from planning.errors import PlanningError
from planning.models import ListEntry
from register.history import acting
from register.models import Procedure, User
from register.services.editing import update_row
from register.services.outcomes import reviews_schedule
from register.services.procedures import procedure_open, procedure_sign


def procedure_from_entry(*, entry: ListEntry, operator: User, user: User) -> Procedure:
    """Open the record of a listed case with the levels of its plan.

    Side and approach are carried over as planned and can be changed. Raises
    PlanningError when the case is not waiting on the list or has a record.
    """
    if entry.procedure_id or entry.state != "planned":
        raise PlanningError(
            code="entry-has-record",
            message="This case already has a record, or is no longer on the list.",
            hint="Open the record from the list.",
        )
    plan = entry.plan
    with acting(user, "Procedure record opened from the list"):
        procedure = procedure_open(
            patient=plan.patient,
            technique=plan.technique,
            performed_on=entry.session.held_on,
            operator=operator,
            user=user,
            levels=[
                {"fracture": level.fracture, "side": level.side, "approach": level.approach}
                for level in plan.levels.live().select_related("fracture")
            ],
            anaesthesia=plan.anaesthesia,
            position=plan.position,
        )
        entry.procedure, entry.state = procedure, "done"
        update_row(entry, expected_version=entry.version, fields=["procedure", "state"])
    return procedure


def procedure_finish(*, procedure: Procedure, expected_version: int, user: User) -> Procedure:
    """Sign the record and schedule the contacts that follow it, in one transaction."""
    with acting(user, "Procedure signed"):
        procedure_sign(procedure=procedure, expected_version=expected_version, user=user)
        reviews_schedule(
            patient=procedure.patient,
            procedure=procedure,
            anchor_on=procedure.performed_on,
            user=user,
        )
    return procedure
