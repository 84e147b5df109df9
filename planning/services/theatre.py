"""Writing theatre sessions and their lists."""

from typing import Any

from django.db.models import F, Max

from planning.errors import PlanningError
from planning.models import ListEntry, ProcedurePlan, TheatreSession
from register.history import acting
from register.models import Site, User
from register.services.editing import update_row


def session_create(*, site: Site, user: User, **fields: Any) -> TheatreSession:
    """Add a session of theatre time."""
    with acting(user, "Theatre session added"):
        session = TheatreSession(site=site, **fields)
        session.full_clean()
        session.save()
    return session


def session_change(
    *, session: TheatreSession, expected_version: int, user: User, **fields: Any
) -> TheatreSession:
    """Change a session. It cannot be cancelled while cases stand on its list."""
    if fields.get("cancelled_reason") and _planned(session).exists():
        raise PlanningError(
            code="session-not-empty",
            message="Cases still stand on this list.",
            hint="Move them to another session, or take them off with a reason, then cancel.",
        )
    with acting(user, "Theatre session changed"):
        for name, value in fields.items():
            setattr(session, name, value)
        update_row(session, expected_version=expected_version, fields=list(fields))
    return session


def _planned(session: TheatreSession) -> Any:
    return session.entries.filter(state="planned", voided_at=None)


def entry_add(
    *, session: TheatreSession, plan: ProcedurePlan, user: User, minutes: int | None = None
) -> ListEntry:
    """Put an approved plan at the end of a list.

    Raises PlanningError for a draft plan, a cancelled session, or when nobody
    said how long it takes. More minutes than the session has is allowed and
    shown; people decide.
    """
    minutes = minutes if minutes is not None else plan.expected_minutes
    if plan.state != "approved":
        raise PlanningError(
            code="plan-not-approved",
            message="Only an approved plan can be listed.",
            hint="Have a consultant approve the plan first.",
        )
    if session.cancelled_reason:
        raise PlanningError(
            code="session-cancelled",
            message="This session is cancelled.",
            hint="Choose another session.",
        )
    if minutes is None:
        raise PlanningError(
            code="minutes-missing",
            message="The plan does not say how long it takes.",
            hint="Give the minutes.",
        )
    with acting(user, "Case listed"):
        TheatreSession.objects.select_for_update().get(pk=session.pk)
        last = session.entries.aggregate(last=Max("place"))["last"] or 0
        entry = ListEntry(session=session, plan=plan, place=last + 1, minutes=minutes)
        entry.full_clean()
        entry.save()
    return entry


def entry_move(*, entry: ListEntry, up: bool, user: User) -> bool:
    """Swap a case with its neighbour. Returns False at the end of the list."""
    with acting(user, "List order changed"):
        TheatreSession.objects.select_for_update().get(pk=entry.session_id)
        entry.refresh_from_db()
        others = _planned(entry.session)
        if up:
            other = others.filter(place__lt=entry.place).order_by("-place").first()
        else:
            other = others.filter(place__gt=entry.place).order_by("place").first()
        if other is None:
            return False
        for row, place in ((entry, other.place), (other, entry.place)):
            # Places are unique at commit only, so the swap may pass through a double one.
            ListEntry.objects.filter(pk=row.pk).update(place=place, version=F("version") + 1)
    return True


def entry_cancel(*, entry: ListEntry, reason: str, user: User) -> ListEntry:
    """Take a case off its list, with the reason; its plan can be listed again."""
    if entry.state != "planned":
        raise PlanningError(
            code="entry-not-planned",
            message="This case is already done or taken off.",
            hint="Reload the list.",
        )
    with acting(user, reason):
        entry.state, entry.cancelled_reason = "cancelled", reason
        update_row(entry, expected_version=entry.version, fields=["state", "cancelled_reason"])
    return entry
