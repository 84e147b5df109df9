"""New entries of every kind, as somebody would type them."""

from itertools import count
from typing import Any, Final

from django.test import Client
from django.utils.timezone import localdate

from register.domain.days import MONTHS
from register.drills._forms import forms_of
from register.drills._walk import Found, walk

# Drills in one process share it, as they share the register.
_NUMBERS: Final = count(1)
_TODAY: Final = localdate()
_DAY: Final = {
    "day": str(_TODAY.day), "month": MONTHS[_TODAY.month - 1], "year": str(_TODAY.year),
}  # fmt: skip


def _on(name: str) -> dict[str, str]:
    return {f"{name}_{part}": value for part, value in _DAY.items()}


# Address name -> what is typed; {n} is a number that no other entry has,
# {day} and {year} a birthday of its own.
TYPED: Final[dict[str, dict[str, Any]]] = {
    "patient-new": {
        "family_name": "Drill", "given_name": "Ada", "hospital_number": "D{n}", "sex": "female",
        # Namesakes of one birthday are asked about, so nobody shares it.
        **_on("date_of_birth"), "date_of_birth_day": "{day}", "date_of_birth_year": "{year}",
    },
    "study-new": {
        "modality": "film", "posture": "supine", "counted_from": "sacrum", **_on("performed_on"),
        "report": "Drill {n}",
    },
    "attempt-new": {
        "mode": "telephone", "outcome": "no_answer", **_on("made_on"), "made_at": "00:00",
        "note": "Drill {n}",
    },
    "theatre-session-new": {
        **_on("held_on"), "held_on_day": "2", "held_on_year": str(_TODAY.year + 1),
        "starts_at": "08:30", "minutes": "240", "room": "Theatre {n}",
    },
    "complication-new": {"kind": "pain", **_on("occurred_on"), "note": "Drill {n}"},
    "cement-new": {"side": "left", "volume_ml": "2.5", "viscosity": "high", "lot": "L{n}"},
    "leak-new": {
        "route": "B", "place": "disc", "seen_on": "fluoroscopy", "note": "Drill {n}",
    },
    "technique-new": {"name": "Technique {n}", "route": "balloon", "typical_minutes": "45"},
    "user-new": {
        "username": "drill.{n}", "first_name": "Ada", "last_name": "Drill", "role": "nurse",
        "passphrase": "grey heron on the weir",
    },
}  # fmt: skip


def entries_of(clients: dict[str, Client]) -> dict[str, Found]:
    """Return the forms for new entries that people can reach, by the name of their address."""
    return {one.name: one for one in walk(clients)[1] if one.name in TYPED}


def new_entry(client: Client, found: Found) -> tuple[str, dict[str, Any]]:
    """Open the page anew; return where its form goes and what it would send."""
    page = client.get(found.page, follow=True)
    forms = forms_of(page.content.decode(), found.page)
    form = next((one for one in forms if one.action == found.form.action), None)
    if form is None:
        raise LookupError(f"{found.page} has no form any more that posts to {found.form.action}.")
    return form.action, form.typed(**typing_of(found.name, list(form.kinds), next(_NUMBERS)))


def typing_of(name: str, boxes: list[str], number: int) -> dict[str, Any]:
    """Return what is typed, by the names of the boxes on the page (some have a prefix)."""
    born = {"day": 1 + number % 28, "year": 1930 + number // 28 % 60}
    return {
        box: value.format(n=number, **born)
        for key, value in TYPED[name].items()
        for box in boxes
        if box == key or box.endswith(f"-{key}")
    }
