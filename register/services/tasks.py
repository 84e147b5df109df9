"""Tasks: a test, result or specimen that a named person must see."""

from datetime import date

from django.core.exceptions import ValidationError
from django.utils import timezone

from register.history import acting
from register.models import Patient, Task, User
from register.services.editing import update_row


def task_open(
    *, patient: Patient, kind: str, title: str, owner: User, due_on: date, user: User
) -> Task:
    """Give somebody of the patient's own site a task. Raises ValidationError."""
    if owner.site_id != patient.site_id or not owner.is_active:
        raise ValidationError({"owner": "Choose somebody who works in this department."})
    with acting(user, "Task opened"):
        task = Task(patient=patient, kind=kind, title=title, owner=owner, due_on=due_on)
        task.full_clean()
        task.save()
    return task


def task_close(*, task: Task, expected_version: int, action_taken: str, user: User) -> Task:
    """Close a task with what was done; nothing closes by itself.

    Raises ValidationError without an action or for a closed task, EditConflict.
    """
    if task.closed_at is not None:
        raise ValidationError("This task is closed already.")
    if not action_taken.strip():
        raise ValidationError({"action_taken": "Say what was done."})
    with acting(user, "Task closed"):
        task.closed_at, task.closed_by = timezone.now(), user
        task.action_taken = action_taken.strip()
        update_row(
            task,
            expected_version=expected_version,
            fields=["closed_at", "closed_by", "action_taken"],
        )
    return task
