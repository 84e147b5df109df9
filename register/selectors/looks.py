"""Who looked at whom: the notes of `register.reads`, in words and by day."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from typing import Final

from django.db.models import QuerySet
from django.urls import NoReverseMatch, reverse
from django.utils.timezone import localdate

from register.models import AccessLog, Patient, User

# Pages whose address name does not read as words.
WORDS: Final = {
    "assessment": "Assessment as it was made",
    "attempt-new": "A try to reach the patient",
    "audit-rows": "Rows of an issued audit, handed out",
    "course": "Course and contacts",
    "decide": "Decision",
    "entry-cancel": "Taking a case off the list",
    "follow-up-due": "Follow-up list",
    "follow-up-end": "End of follow-up",
    "fracture-aside": "Setting a fracture aside",
    "fracture-edit": "Fracture",
    "laboratory-edit": "A blood value",
    "laboratory-new": "Blood tests and bone density",
    "merge": "Two records compared, to make them one",
    "merge-find": "Same person twice: the search",
    "move": "An entry and the patient it belongs to",
    "move-find": "Search for the right patient of an entry",
    "move-list": "Entries for the wrong patient",
    "my-looks": "What I looked at",
    "part-void": "Taking an entry of the operation back",
    "patient-as-of": "The record as it stood on a day",
    "patient-edit": "Patient's details",
    "patient-history": "History of the record",
    "patient-looks": "Who looked at this patient",
    "patient-record": "Patient record",
    "patient-search": "Search for a patient",
    "patient-tasks": "Tests and results to see",
    "plan": "Plan of a procedure",
    "plan-new": "New plan of a procedure",
    "plan-reopen": "Taking an approval back",
    "procedure": "Operation record",
    "reading-edit": "Reading of images",
    "reading-new": "New reading of images",
    "record-aside": "Setting an entry aside",
    "record-back": "Bringing an entry back",
    "record-history": "History of one entry",
    "referral-edit": "Referral",
    "referral-import": "File of referrals, row by row",
    "referral-import-refused": "Refused rows of a file",
    "referral-imports": "Files of referrals",
    "referral-new": "New referral",
    "review": "Follow-up contact",
    "study-edit": "Images",
    "study-new": "New images",
    "theatre-list-pdf": "Theatre list as PDF",
    "theatre-log": "Theatre log compared with the register",
    "theatre-log-line": "A line of the theatre log",
    "theatre-session": "Theatre list",
    "theatre-sessions": "Theatre sessions",
    "transfer": "A record moved or made one",
    "transfer-undo": "Undoing a move or a merge",
    "waiting": "Waiting list",
}


@dataclass(frozen=True, slots=True)
class Look:
    """One page that was shown. `patient` is None for a list; its address is blank then, too."""

    at: datetime
    who: User
    page: str
    reason: str
    patient: Patient | None
    url: str


@dataclass(frozen=True, slots=True)
class Day:
    """The looks of one day on the hospital's clock, the latest first."""

    on: date
    looks: list[Look]


def looks_at(patient: Patient) -> QuerySet[AccessLog]:
    """Every look at one patient, the latest first; lists on which he or she stood are not among."""
    rows = AccessLog.objects.filter(patient=patient).select_related("user", "patient")
    return rows.order_by("-at", "-pk")


def looks_of(user: User) -> QuerySet[AccessLog]:
    """Everything that one person looked at, the latest first."""
    rows = AccessLog.objects.filter(user=user).select_related("user", "patient")
    return rows.order_by("-at", "-pk")


def by_day(rows: Iterable[AccessLog]) -> list[Day]:
    """Put the looks of a page of results under their days."""
    return [
        Day(on, [_look(row) for row in of_day])
        for on, of_day in groupby(rows, key=lambda row: localdate(row.at))
    ]


def page_words(page: str) -> str:
    """Return a noted page in words; of a list with the number that tells which."""
    name, _, which = page.partition(" ")
    words = WORDS.get(name) or name.replace("-", " ").capitalize()
    return f"{words}, {which}" if which.startswith("page") else " ".join([words, which]).strip()


def _look(row: AccessLog) -> Look:
    return Look(
        row.at, row.user, page_words(row.page), row.reason, row.patient, _record(row.patient)
    )


def _record(patient: Patient | None) -> str:
    """Return the record's address; blank for a list, and for a record that was set aside."""
    if patient is None or patient.voided_at is not None:
        return ""
    try:
        return reverse("patient-record", args=[patient.pk])
    except NoReverseMatch:
        return ""
