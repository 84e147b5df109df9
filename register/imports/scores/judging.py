"""What becomes of each row of a file of follow-up scores.

A row is a contact that took place. The register must know the patient, and the contact it
means must be certain (see placing). A contact that is due is recorded by it; one that is
recorded on the same day is filled or changed by the rule of `register.imports.weighing`;
one that is recorded on another day is for a person. A value that the page would question
needs its reason in the file.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Final

from django.utils.timezone import localtime

from register.domain import vocabulary as v
from register.domain.days import NOT_RECORDED, day_words
from register.domain.scores import INSTRUMENTS, unlikely, worst_below_now
from register.imports.cells import Absent
from register.imports.people import KnownPeople, who_is_meant
from register.imports.reading import ReadFile, ReadLine
from register.imports.scores.columns import COLUMNS
from register.imports.scores.known import KnownContact, KnownFollowed
from register.imports.scores.placing import Place, place_of
from register.imports.scores.rows import ScoreRow
from register.imports.verdicts import Addition, Edit, Kind, Verdict
from register.imports.weighing import Recorded, weigh

_NAMES: Final = {(c.part, c.field): c.name for c in COLUMNS}
_OF_REVIEW: Final = {field: name for (part, field), name in _NAMES.items() if part == "review"} | {
    "red_flags_told_at": "Told at"
}
_WORDS: Final[dict[str, v.Words]] = {"mode": v.CONTACT_MODE, "informant": v.INFORMANT}
_WHERE: Final = "under “Why unlikely”"


@dataclass(frozen=True, slots=True)
class _Found:
    """A row that means one contact of one patient."""

    line: ReadLine
    row: ScoreRow
    patient: KnownFollowed
    place: Place


@dataclass(slots=True)
class _Writing:
    """What one row writes, what is told of it, and what stands against it."""

    notes: list[str] = field(default_factory=list)
    edits: list[Edit] = field(default_factory=list)
    additions: list[Addition] = field(default_factory=list)
    conflicts: list[str] = field(default_factory=list)
    values: dict[str, int] = field(default_factory=dict)


# A value and the day it was given, in words; by instrument.
_Before = dict[str, tuple[int, str]]


def judge(file: ReadFile, known: KnownPeople[KnownFollowed]) -> tuple[Verdict, ...]:
    """Return a verdict for each row, in the order of the file."""
    verdicts: dict[int, Verdict] = {}
    contacts: dict[tuple[Any, ...], list[_Found]] = defaultdict(list)
    for line in file.lines:
        if line.row is None:
            verdicts[line.number] = Verdict(line, Kind.REFUSED, line.reasons)
            continue
        found = _found(line, line.row, known)
        if isinstance(found, Verdict):
            verdicts[line.number] = found
        else:
            contacts[found.place.key].append(found)
    accepted: dict[int, list[_Found]] = defaultdict(list)
    for rows in sorted(contacts.values(), key=lambda rows: rows[0].place.slot.target_on):
        for verdict in _judge_contact(rows, accepted[rows[0].patient.pk]):
            verdicts[verdict.number] = verdict
    return tuple(verdicts[line.number] for line in file.lines)


def _found(line: ReadLine, row: ScoreRow, known: KnownPeople[KnownFollowed]) -> _Found | Verdict:
    """Return whom and which contact a row means, or the verdict when nobody can tell."""
    patient, reasons = who_is_meant(row.patient, known, on=row.held_on)
    if not reasons and (patient is None or patient.set_aside):
        reasons = [
            "The register knows no patient with this number. Send the referral in first, or "
            "correct the number."
        ]
    if patient is None or reasons:
        return Verdict(line, Kind.CONFLICT, tuple(reasons))
    place, reasons = place_of(row, patient)
    if place is None:
        return Verdict(line, Kind.CONFLICT, tuple(reasons), patient_id=patient.pk)
    return _Found(line, row, patient, place)


def _judge_contact(rows: list[_Found], accepted: list[_Found]) -> Iterable[Verdict]:
    """Judge the rows of one contact: one, the same once more, or a quarrel of several."""
    first, *others = rows
    if any(not other.row.says_the_same_as(first.row) for other in others):
        numbers = ", ".join(str(one.row.number) for one in rows)
        words = (
            f"Rows {numbers} tell of the same contact, {first.place.words}, and differ. Keep one "
            "row for each contact, or write the time points."
        )
        for one in rows:
            yield Verdict(one.line, Kind.CONFLICT, (words,), patient_id=one.patient.pk)
        return
    verdict = _judge_row(first, accepted)
    yield verdict
    if verdict.kind is not Kind.CONFLICT:
        accepted.append(first)
    words = f"The same as row {first.row.number} of this file."
    for other in others:
        yield Verdict(other.line, Kind.SAME, (words,), patient_id=other.patient.pk)


def _judge_row(found: _Found, accepted: list[_Found]) -> Verdict:
    contact, writing = found.place.slot.contact, _Writing()
    recorded_on = contact.held_on if contact else None
    if recorded_on is None:
        writing.notes.append(_capital(f"{found.place.words}{_when(found)}."))
    if recorded_on not in (None, found.row.held_on):
        writing.conflicts.append(
            f"{_capital(found.place.words)}, is recorded as held on {day_words(recorded_on)}, the "
            f"row says {day_words(found.row.held_on)}. A person decides which day is right."
        )
    else:
        _write_contact(found, contact, writing)
        _write_scores(found, contact, writing)
        _question(found, contact, writing, _before(found, accepted))
    if writing.conflicts:
        reasons = tuple(writing.conflicts)
        return Verdict(found.line, Kind.CONFLICT, reasons, patient_id=found.patient.pk)
    changed = Kind.CHANGED if writing.edits or writing.additions else Kind.SAME
    return Verdict(
        found.line,
        Kind.KNOWN if recorded_on is None else changed,
        notes=tuple(writing.notes),
        patient_id=found.patient.pk,
        edits=tuple(writing.edits),
        additions=tuple(writing.additions),
    )


def _when(found: _Found) -> str:
    """Return that a contact was held before or after its window; '' inside it."""
    slot, held = found.place.slot, found.row.held_on
    if slot.holds(held):
        return ""
    return ", held early" if held < slot.opens_on else ", held late"


def _write_contact(found: _Found, contact: KnownContact | None, writing: _Writing) -> None:
    """Record a contact, or fill and change what is recorded of it."""
    given = {"held_on": found.row.held_on, **found.row.review}
    if contact is None:
        writing.additions.append(Addition("review", _new_contact(found) | given))
        return
    weighed = weigh(contact, given | _emptied_by(given), names=_OF_REVIEW, said=_said)
    writing.conflicts += weighed.conflicts
    if contact.held_on is not None:
        writing.notes += [*weighed.changes, *weighed.kept]
    if weighed.values:
        writing.edits.append(Edit(contact.model, contact.pk, contact.version, weighed.values))


def _emptied_by(given: Mapping[str, Any]) -> dict[str, Any]:
    """Return what an answer leaves nothing to say of, as on the page, with its empty value."""
    found: dict[str, Any] = {}
    if given.get("informant") == "patient":
        found["informant_name"] = ""
    if given.get("red_flags") == ["none"]:
        found |= {"red_flags_told": "", "red_flags_told_at": None}
    return found


def _new_contact(found: _Found) -> dict[str, Any]:
    treatment, slot = found.place.treatment, found.place.slot
    return {
        "patient_id": found.patient.pk,
        "procedure_id": treatment.procedure_id,
        "fracture_id": treatment.fracture_id,
        "timepoint": slot.timepoint,
        "anchor_on": treatment.anchor_on,
        "opens_on": slot.opens_on,
        "target_on": slot.target_on,
        "closes_on": slot.closes_on,
    }


def _write_scores(found: _Found, contact: KnownContact | None, writing: _Writing) -> None:
    """Add or weigh each score; a contact whose scores change becomes another version.

    The page of a contact knows the contact's version alone: by it, whoever has the page
    open meets what a file changed meanwhile.
    """
    has_edit = bool(writing.edits)
    for code, given in found.row.scores.items():
        there = contact.scores.get(code) if contact else None
        if there is None:
            _add_score(code, given, contact, writing)
        else:
            _weigh_score(code, given, there, writing)
    if contact is not None and not has_edit and (writing.edits or writing.additions):
        # First, as on the page: what was read is what stood before the contact changed.
        writing.edits.insert(0, Edit(contact.model, contact.pk, contact.version, {}))


def _add_score(
    code: str, given: int | Absent, contact: KnownContact | None, writing: _Writing
) -> None:
    values: dict[str, Any] = {"instrument": code}
    if contact is not None:
        values["review_id"] = contact.pk
    if isinstance(given, Absent):
        values["absent"] = {"value": given.reason}
        now = v.words_for(v.ABSENT, given.reason)
    else:
        values["value"] = writing.values[code] = given
        now = INSTRUMENTS[code].words(given)
    writing.additions.append(Addition("score", values))
    if contact is not None and contact.held_on is not None:
        writing.notes.append(f"{_NAMES['score', code]}: {NOT_RECORDED} → {now}")


def _weigh_score(code: str, given: int | Absent, there: Recorded, writing: _Writing) -> None:
    told = {"absent": {"value": given.reason}} if isinstance(given, Absent) else {"value": given}

    def said(name: str, value: Any) -> str:
        return INSTRUMENTS[code].words(value)

    weighed = weigh(there, told, names={"value": _NAMES["score", code]}, said=said)
    writing.notes += [*weighed.changes, *weighed.kept]
    writing.conflicts += weighed.conflicts
    if not weighed.values:
        return
    values = weighed.values | {"unlikely_reason": ""}
    if "value" in values:
        writing.values[code] = values["value"]
    writing.edits.append(Edit(there.model, there.pk, there.version, values))


def _question(
    found: _Found, contact: KnownContact | None, writing: _Writing, before: _Before
) -> None:
    """Ask about each unlikely value that would be written, or keep the reason that is given."""
    standing = _standing(contact) | writing.values
    reason = found.row.unlikely_reason
    asked = {}
    for code, value in writing.values.items():
        last, told_on = before.get(code, (None, ""))
        words = unlikely(code, value, before=last, told_on=told_on, where=_WHERE)
        if code == "pain_worst" and not words:
            words = worst_below_now(standing, where=_WHERE)
        if words:
            asked[code] = words
    if asked and not reason:
        writing.conflicts += asked.values()
    elif asked:
        _keep_reason(set(asked), reason, contact, writing)


def _keep_reason(
    codes: set[str], reason: str, contact: KnownContact | None, writing: _Writing
) -> None:
    """Put the reason beside each unlikely value."""
    why = {"unlikely_reason": reason}
    writing.additions = [
        Addition(one.model, {**one.values, **why}) if one.values.get("instrument") in codes else one
        for one in writing.additions
    ]
    unlikely_rows = {contact.scores[c].pk for c in codes if c in contact.scores} if contact else ()
    writing.edits = [
        Edit(one.model, one.pk, one.version, {**one.values, **why})
        if one.model == "score" and one.pk in unlikely_rows
        else one
        for one in writing.edits
    ]


def _standing(contact: KnownContact | None) -> dict[str, int | None]:
    """Return the recorded values of a contact."""
    scores: Mapping[str, Recorded] = contact.scores if contact else {}
    return {code: _whole(score.values["value"]) for code, score in scores.items()}


def _whole(value: Any) -> int | None:
    return None if value is None else int(value)


def _before(found: _Found, accepted: list[_Found]) -> _Before:
    """Return the last value of each instrument before a contact; the referral's if none."""
    target_on, patient = found.place.slot.target_on, found.patient
    given: list[tuple[date, dict[str, int | None]]] = [
        (slot.contact.held_on, _standing(slot.contact))
        for slot in patient.slots
        if slot.contact and slot.contact.held_on and slot.target_on < target_on
    ]
    given += [
        (one.row.held_on, {c: n for c, n in one.row.scores.items() if isinstance(n, int)})
        for one in accepted
        if one.place.slot.target_on < target_on
    ]
    referred_on = patient.referred_on
    knows = referred_on is not None and referred_on <= found.place.treatment.anchor_on
    last: _Before = dict(patient.referral) if knows else {}
    for held_on, values in sorted(given, key=lambda one: one[0]):
        last |= {c: (n, day_words(held_on)) for c, n in values.items() if n is not None}
    return last


def _said(name: str, value: Any) -> str:
    """Return a value of a contact as pages print it."""
    if value in (None, "", []):
        return NOT_RECORDED
    if isinstance(value, datetime):
        local = localtime(value)
        return f"{day_words(local.date())}, {local:%H:%M}"
    if isinstance(value, date):
        return day_words(value)
    if isinstance(value, list):
        return ", ".join(v.words_for(v.RED_FLAG, code) for code in value)
    return v.words_for(_WORDS[name], value) if name in _WORDS else str(value)


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
