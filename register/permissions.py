"""Roles as code: what each role may do. One table, read by views, templates and tests.

A right is a word for one kind of act. Reading an identifiable page is a right
of its own; the governance lead has it only with a reason. Every page of care that
was shown is noted (`register.reads`), whatever its view does.
"""

from collections.abc import Callable
from functools import wraps
from typing import Any, Final

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse

from register.models import User
from register.reads import shown

RIGHTS: Final = (
    "see_patients",  # identifiable pages of care
    "see_with_reason",  # one identifiable record, after giving a reason
    "refer",  # patients, referrals, imports
    "merge_records",  # two records of one person made one; an entry moved; both undone
    "record_findings",  # studies, readings, measurements, laboratory
    "follow_up",  # contacts, scores, attempts
    "manage_lists",  # theatre sessions and their order
    "record_procedure",
    "assess",
    "decide",  # decide, override, approve a plan
    "sign_procedure",
    "see_protocol",
    "propose_protocol",
    "approve_protocol",
    "see_audit",
    "compare_log",  # the theatre log beside the register
    "issue_audit",
    "export",  # anything that leaves the department
    "manage_users",
    "manage_catalogue",  # techniques and stock
)
# Pages under these alone show nobody; what is shown under any other right is noted.
NOT_NOTED: Final = frozenset(
    {"see_protocol", "propose_protocol", "approve_protocol", "see_audit"}
    | {"manage_users", "manage_catalogue"}
)
_CARE = {"see_patients", "refer", "record_findings", "follow_up", "manage_lists", "see_protocol"}
# Whoever enters records may put them with their right patient. It is a right of its own, so
# that a department can keep it to fewer people than may refer.
_CARE |= {"merge_records"}
ROLE_RIGHTS: Final[dict[str, frozenset[str]]] = {
    "consultant": frozenset(
        _CARE
        | {
            "record_procedure",
            "assess",
            "decide",
            "sign_procedure",
            "approve_protocol",
            "see_audit",
            "compare_log",
        }
    ),
    "nurse": frozenset(_CARE | {"record_procedure", "assess"}),
    "lead": frozenset(
        {"see_with_reason", "see_protocol", "propose_protocol", "see_audit", "issue_audit"}
        | {"compare_log", "export"}
    ),
    "administrator": frozenset({"manage_users", "manage_catalogue", "see_protocol"}),
    "": frozenset(),
}


def may(user: Any, right: str) -> bool:
    """Whether a signed-in, active person with a site has the right. Raises for an unknown right."""
    if right not in RIGHTS:
        raise ValueError(f"Unknown right {right!r}.")
    if not getattr(user, "is_authenticated", False) or not user.is_active or not user.site_id:
        return False
    return right in ROLE_RIGHTS[user.role]


class SignedInRequest(HttpRequest):
    """For annotations behind `needs`: the user is a person of a site."""

    user: User


View = Callable[..., HttpResponse]


def needs(*rights: str, names_nobody: bool = False) -> Callable[[View], View]:
    """Let a view through only for people who have one of the rights; 403 otherwise.

    What a page of care shows is noted, and a person who may see patients with a
    reason only is asked for it first. `names_nobody` is for the few pages under
    these rights that show nothing about anybody. The decorated view carries
    `rights` and `is_noted`, from which the access matrix is tested.
    """
    for right in rights:
        if right not in RIGHTS:
            raise ValueError(f"Unknown right {right!r}.")
    is_noted = not NOT_NOTED.issuperset(rights) and not names_nobody

    def decorate(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if not any(may(request.user, right) for right in rights):
                raise PermissionDenied
            if not is_noted:
                return view(request, *args, **kwargs)
            return shown(
                request,
                lambda: view(request, *args, **kwargs),
                needs_reason=not may(request.user, "see_patients"),
                may_ask=may(request.user, "see_with_reason"),
            )

        checked = login_required(guarded)
        checked.rights = rights  # type: ignore[attr-defined]
        checked.is_noted = is_noted  # type: ignore[attr-defined]
        return checked

    return decorate
