"""Writing the rows of a confirmed file of follow-up scores."""

from collections.abc import Sequence
from dataclasses import replace

from register.imports.verdicts import Edit, Verdict
from register.models import Review, Score, Site, User
from register.services.import_writing import Say, Writer


def scores_write(
    verdicts: Sequence[Verdict], *, site: Site, user: User, say: Say | None = None
) -> None:
    """Write the contacts that took place, with their scores, and what rows change.

    Call it inside `acting`. Raises what Writer.write raises.
    """
    writer = Writer(Review, Score, say=say)
    for verdict in verdicts:
        made: Review | None = None
        for addition in verdict.additions:
            if addition.model == "review":
                made = Review(**addition.values, recorded_by=user)
                writer.add(verdict.number, made)
            else:
                own = {"review": made} if made is not None else {}
                writer.add(verdict.number, Score(**addition.values, **own))
        edits = tuple(_with_who(edit, user) for edit in verdict.edits)
        writer.take(replace(verdict, edits=edits, additions=()))
    writer.write()


def _with_who(edit: Edit, user: User) -> Edit:
    """Say who recorded a contact that was due until now."""
    if "held_on" not in edit.values:
        return edit
    return replace(edit, values={**edit.values, "recorded_by_id": user.pk})
