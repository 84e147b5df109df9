"""Which column of a file holds which of ours: what is asked, what may be guessed."""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Final

from register.imports.column import Column, labels_of
from register.imports.table import REASON, Table, plain_name

NOT_READ: Final = "-"  # the answer "do not read"; '' is no answer yet
# Names that hospital systems commonly give to columns of ours; common usage, no source.
_OTHER_NAMES: Final = {
    "dob": "date of birth",
    "birth date": "date of birth",
    "born": "date of birth",
    "surname": "family name",
    "last name": "family name",
    "forename": "given name",
    "first name": "given name",
    "gender": "sex",
    "mrn": "hospital number",
    "hosp no": "hospital number",
    "patient id": "hospital number",
    "unit number": "hospital number",
    "nhs no": "nhs number",
    "phone": "telephone",
    "mobile": "telephone",
    "gp": "general practitioner",
    "post code": "postcode",
    "date of referral": "referral date",
    "referred": "referral date",
    "level": "levels",
    "fracture level": "levels",
    "onset": "onset date",
    "date of onset": "onset date",
    "anticoagulants": "blood thinners",
    "date of procedure": "procedure date",
    "operation date": "procedure date",
    "date of operation": "procedure date",
    "surgeon": "operator",
    "method": "technique",
    "cement": "cement ml",
    "cement volume": "cement ml",
    "leak": "leaks",
    "leakage": "leaks",
    "screening time": "fluoroscopy s",
    "dose area product": "dose-area product gy cm2",
    "discharge date": "discharged",
    "died": "date of death",
    "comments": "note",
    "remarks": "note",
    "date of contact": "contact date",
    "date of visit": "contact date",
    "visit date": "contact date",
    "review date": "contact date",
    "visit": "time point",
    "timepoint": "time point",
    "follow up": "time point",
}
_NEAR: Final = 0.7  # how much two names have in common before one is offered for the other


@dataclass(frozen=True, slots=True)
class Question:
    """One column of the file: its label, its first values, and what it may be.

    `sure` is the name of our column when the names are the same and stand once;
    `guesses` are names to offer, never taken by themselves.
    """

    label: str
    values: tuple[str, ...]
    sure: str
    guesses: tuple[str, ...]


def fits(table: Table, columns: Sequence[Column]) -> bool:
    """Whether every column of a file is one of ours, each once, and no needed one is missing."""
    plain = [
        plain_name(name)
        for place, name in enumerate(table.head)
        if plain_name(name) != plain_name(REASON) and (name or table.values_of(place, 1))
    ]
    known = {column.plain for column in columns}
    needed = {column.plain for column in columns if column.needed}
    return len(set(plain)) == len(plain) and needed <= set(plain) <= known


def digest_of(names: Sequence[str]) -> str:
    """Return what stands for a head; refused rows that come back have the head they went with."""
    told = [name for name in names if plain_name(name) != plain_name(REASON)]
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()


def questions_of(table: Table, columns: Sequence[Column]) -> list[Question]:
    """Return what is asked about each column of a file; columns that are quite empty are not."""
    by_name = {column.plain: column.name for column in columns}
    plain = [plain_name(name) for name in table.head]
    asked = []
    for place, label in enumerate(labels_of(table.head)):
        values = tuple(table.values_of(place))
        if label == REASON or not (table.head[place] or values):
            continue
        once = plain.count(plain[place]) == 1
        here = by_name.get(plain[place], "")
        near = _near(plain[place], {p: n for p, n in by_name.items() if p not in plain})
        guesses = () if here and once else (here,) if here else near
        asked.append(Question(label, values, here if once else "", guesses))
    return asked


def complete(table: Table, chosen: Mapping[str, str]) -> dict[str, str]:
    """Return a mapping with every label of the head; empty columns are not read."""
    return {label: chosen.get(label, "") for label in labels_of(table.head) if label != REASON}


def _near(name: str, free: Mapping[str, str]) -> tuple[str, ...]:
    """Return our columns that are not in the file and may be meant by a name."""
    found = [free[_OTHER_NAMES[name]]] if _OTHER_NAMES.get(name) in free else []
    found += [free[near] for near in get_close_matches(name, free, n=3, cutoff=_NEAR)]
    return tuple(dict.fromkeys(found))
