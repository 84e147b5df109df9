"""Saying by hand what a line of the theatre log is, and looking for all open ones again."""

from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import F

from register.history import acting
from register.imports.theatre_log.matching import Outcome
from register.models import Procedure, Site, TheatreLogEntry, User
from register.selectors.theatre_log import matches_of, open_lines
from register.services.records import record_change


class LinesMoved(Exception):
    """Somebody settled one of the lines in this moment; nothing was written."""


def line_link(
    *, line: TheatreLogEntry, expected_version: int, procedure: Procedure, user: User
) -> TheatreLogEntry:
    """Say which recorded procedure a line is. Raises ValidationError, EditConflict.

    Several lines may be one procedure: two levels often stand in two lines.
    """
    if procedure.voided_at is not None or procedure.patient.site_id != line.site_id:
        raise ValidationError("This procedure is not in the register any more.")
    return _settle(line, expected_version, user, "Line found by hand", procedure=procedure)


def line_set_apart(
    *, line: TheatreLogEntry, expected_version: int, because: str, user: User
) -> TheatreLogEntry:
    """Say why a line is no procedure of this register. Raises ValidationError, EditConflict."""
    because = because.strip()
    if not because:
        raise ValidationError({"because": "Say why it is no procedure of this register."})
    return _settle(line, expected_version, user, "Line is none of ours", because=because)


def line_take_back(*, line: TheatreLogEntry, expected_version: int, user: User) -> TheatreLogEntry:
    """Leave a line open, whatever was found or said before. Raises EditConflict.

    It stays open until a person says otherwise, or a file changes it: what was taken back
    must not come back by itself.
    """
    return _settle(line, expected_version, user, "Line left open again")


def lines_look_again(*, site: Site, first: date, last: date, user: User) -> int:
    """Find the open lines of a period whose procedure was recorded since; return how many.

    Lines that a person left open are not among them. Raises LinesMoved.
    """
    waiting = [line for line in open_lines(site, first, last) if not line.is_left_open]
    found = matches_of(site, waiting)
    found_now = [line for line in waiting if found[line.pk].outcome is Outcome.FOUND]
    with acting(user, "Theatre log compared again"):
        for line in found_now:
            row = TheatreLogEntry.objects.filter(pk=line.pk, version=line.version)
            procedure_id = found[line.pk].procedure_id
            now = {"procedure": procedure_id, "settled_by": None, "version": F("version") + 1}
            if not row.update(**now):
                raise LinesMoved
    return len(found_now)


def _settle(
    line: TheatreLogEntry,
    version: int,
    user: User,
    reason: str,
    *,
    procedure: Procedure | None = None,
    because: str = "",
) -> TheatreLogEntry:
    fields: dict[str, Any] = {
        "procedure": procedure,
        "not_ours_because": because,
        "settled_by": user,
    }
    return record_change(
        record=line, expected_version=version, user=user, reason=reason, fields=fields
    )
