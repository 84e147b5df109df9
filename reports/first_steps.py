"""The first steps of each role on its start page, ticked off from what is recorded.

A step is done when the record names the person (who assessed, decided, signed)
or, where no record names anybody, when the department has what it makes.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from allauth.mfa.utils import is_mfa_enabled
from django.http import HttpRequest
from django.urls import reverse

from planning.models import Assessment, Decision, ListEntry, ProcedurePlan
from register.models import (
    AccessLog,
    Attempt,
    Fracture,
    Procedure,
    Protocol,
    Reading,
    Review,
    StockItem,
    Technique,
    User,
)
from register.views.sign_in import start_page
from reports.models import AuditReport


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do: what, how, where, and whether it has been done."""

    words: str
    how: str
    url: str
    done: bool


@dataclass(frozen=True, slots=True)
class _Plan:
    words: str
    how: str
    page: str
    done: Callable[[User], bool]
    query: str = ""


def _by(model: Any, person: str) -> Callable[[User], bool]:
    """Whether a live row names the person; `person` is the name of the link to him or her."""
    return lambda user: bool(model.objects.live().filter(**{person: user}).exists())


def _here(model: Any, site: str, **where: Any) -> Callable[[User], bool]:
    """Whether the department has a live row; `site` is the way from the row to the site."""
    return lambda user: bool(model.objects.live().filter(**{site: user.site}, **where).exists())


def _team(user: User) -> bool:
    """Whether consultant, nurse and lead can sign in."""
    open_accounts = User.objects.filter(site=user.site, is_active=True)
    return {"consultant", "nurse", "lead"} <= set(open_accounts.values_list("role", flat=True))


def _gave_reason(user: User) -> bool:
    return AccessLog.objects.filter(user=user).exclude(reason="").exists()


_REFERRAL: Final = _Plan(
    "Enter a referral",
    "Look first whether the patient is known. A file of referrals goes in under Import.",
    "patient-search",
    _here(Fracture, "patient__site"),
)
_LISTED: Final = _Plan(
    "Put an approved plan on a list",
    "Open a session, choose the plan, then print the list.",
    "theatre-sessions",
    _here(ListEntry, "session__site"),
)
_STEPS: Final[dict[str, tuple[_Plan, ...]]] = {
    "consultant": (
        _REFERRAL,
        _Plan(
            "Assess a waiting fracture",
            "Open it from the list, press Assess, and read the reasons with their sources.",
            "waiting",
            _by(Assessment, "made_by"),
        ),
        _Plan(
            "Record a decision",
            "With the reason in your own words; against the rules it needs a second name.",
            "waiting",
            _by(Decision, "made_by"),
            "?state=undecided",
        ),
        _Plan(
            "Draft and approve a plan",
            "Levels, side, approach, cement, anaesthesia. It says what it still lacks.",
            "waiting",
            _by(ProcedurePlan, "approved_by"),
            "?state=decided",
        ),
        _LISTED,
        _Plan(
            "Record and sign an operation",
            "From the list. Signing schedules the follow-up.",
            "theatre-sessions",
            _by(Procedure, "signed_by"),
        ),
    ),
    "nurse": (
        _REFERRAL,
        _Plan(
            "Read a level of a study",
            "From the patient’s record: add the study, choose the level on the spine.",
            "waiting",
            _by(Reading, "observer"),
        ),
        _LISTED,
        _Plan(
            "Note a try to reach somebody",
            "Also one without an answer: it shows that nobody was forgotten.",
            "follow-up-due",
            _by(Attempt, "made_by"),
        ),
        _Plan(
            "Enter the scores of a contact",
            "A figure and Enter for each; a reason where there is none.",
            "follow-up-due",
            _by(Review, "recorded_by"),
        ),
    ),
    "lead": (
        _Plan(
            "See that procedures are signed",
            "Only signed records count. The draft of a quarter says how many are not signed yet.",
            "audits",
            _here(Procedure, "patient__site", state="signed"),
        ),
        _Plan(
            "See that contacts are recorded",
            "Read in the draft how many were due, seen, dead and lost, before any outcome.",
            "audits",
            _here(Review, "patient__site", held_on__isnull=False),
        ),
        _Plan(
            "Issue the audit of a finished quarter",
            "It freezes numbers, input rows and PDF together.",
            "audits",
            _by(AuditReport, "issued_by"),
        ),
        _Plan(
            "Look up one case",
            "By its whole number. The record opens once you have given a reason.",
            "patient-search",
            _gave_reason,
        ),
    ),
    "administrator": (
        _Plan(
            "Add the people",
            "A consultant, a nurse and a governance lead, each with an account of their own.",
            "users",
            _team,
        ),
        _Plan(
            "Set up your second factor",
            "A live register lets nobody in without one.",
            "mfa_index",
            is_mfa_enabled,
        ),
        _Plan(
            "Add the techniques",
            "By generic name, with the approval of the department. A plan needs one.",
            "techniques",
            _here(Technique, "site", withdrawn_on=None),
        ),
        _Plan(
            "Put the stock on the shelf",
            "Each lot with size and last day; a scan in theatre then finds it.",
            "stock",
            _here(StockItem, "site"),
        ),
        _Plan(
            "Look at the protocol",
            "The numbers in force, and which of them the department has to confirm.",
            "protocol",
            _here(Protocol, "site"),
        ),
    ),
}


def steps_of(user: User) -> tuple[Step, ...]:
    """Return the first steps of a person's role, ticked off."""
    return tuple(
        Step(plan.words, plan.how, reverse(plan.page) + plan.query, plan.done(user))
        for plan in _STEPS.get(user.role, ())
    )


def first_steps(request: HttpRequest) -> dict[str, Any]:
    """Give the template of a start page its `first_steps` until all are done; else nothing."""
    user, match = getattr(request, "user", None), request.resolver_match
    if not isinstance(user, User) or user.first_steps_hidden or match is None or not user.site_id:
        return {}
    if match.url_name != start_page(user):
        return {}
    steps = steps_of(user)
    return {} if all(step.done for step in steps) else {"first_steps": steps}
