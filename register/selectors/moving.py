"""What goes along when a record is moved to its right patient, and what a person has to say."""

import hashlib
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from register.domain.vocabulary import ABSENT, words_for
from register.models import (
    BoneDensity,
    Fracture,
    LaboratoryResult,
    Patient,
    Procedure,
    Referral,
    Review,
    Score,
    Study,
    Task,
)
from register.selectors.relations import (
    Crossing,
    Link,
    Members,
    clashes_of,
    crossings,
    links,
    own_links,
    root_of,
    with_parts,
)
from register.selectors.rows_in_words import counted, parts_words, row_words

# What may be moved by itself, by the word in the address. All else goes along with these.
KINDS: Final[dict[str, type[Any]]] = {
    "referral": Referral,
    "fracture": Fracture,
    "study": Study,
    "laboratory": LaboratoryResult,
    "bone-density": BoneDensity,
    "procedure": Procedure,
    "review": Review,
    "task": Task,
}
# Of a follow-up contact, only the answers move: each patient keeps the contacts that are due.
ANSWERS: Final = (
    "held_on",
    "mode",
    "informant",
    "informant_name",
    "recorded_by_id",
    "red_flags",
    "red_flags_told",
    "red_flags_told_at",
    "note",
    "absent",
    "unusual",
)


@dataclass(frozen=True, slots=True)
class Question:
    """A row at the other end of a link: does it go along, or does the link end?

    `may_stay` is False when the link cannot end: then it is both or neither.
    """

    row: Any
    sentences: tuple[str, ...]
    may_stay: bool

    @property
    def key(self) -> str:
        """The name of the question."""
        return key_of(self.row)


@dataclass(frozen=True, slots=True)
class Line:
    """One row of a list, with what is part of it."""

    words: str
    parts: str = ""


@dataclass(slots=True)
class MovePlan:
    """Everything that moves, stays, or has to be answered first."""

    row: Any
    to: Patient
    rows: list[Any] = field(default_factory=list)
    members: Members = field(default_factory=dict)
    ends: list[Crossing] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)
    open_questions: list[Question] = field(default_factory=list)
    clashes: list[tuple[Any, Any]] = field(default_factory=list)

    @property
    def digest(self) -> str:
        """What the person was shown: it changes when anything is added or taken away."""
        keys = sorted((model.__name__, key) for model, ids in self.members.items() for key in ids)
        told = repr((keys, sorted((end.row.pk, end.link.column) for end in self.ends)))
        return hashlib.sha256(told.encode()).hexdigest()[:16]

    @property
    def lines(self) -> list[Line]:
        """What moves, the row that was asked for first."""
        among = links()
        return [_line(row, among) for row in self.rows]

    @property
    def stays(self) -> list[str]:
        """How much of the patient's own stays where it is."""
        found = []
        for link in own_links(links()):
            there = link.model._base_manager.filter(**{link.column: self.row.patient_id})
            left = there.exclude(pk__in=self.members.get(link.model, set())).count()
            if left:
                found.append(counted(left, link.relation.one, link.relation.many))
        return found


def key_of(row: Any) -> str:
    """Return "procedure-12"."""
    return f"{row._meta.model_name}-{row.pk}"


def move_plan(row: Any, to: Patient, answers: Mapping[str, str]) -> MovePlan:
    """Work out a move. `answers` maps the key of a question to "along" or "stays".

    Raises UnknownRelation when not every table is known.
    """
    among = links()
    plan = MovePlan(row=row, to=to, rows=[row])
    while True:
        plan.members = with_parts(_by_model(plan.rows), among)
        torn = crossings(plan.members, among)
        along = [c.stays for c in torn if c.goes_along or answers.get(key_of(c.stays)) == "along"]
        if not along:
            break
        plan.rows += list({(type(one), one.pk): one for one in along}.values())
    _ask(plan, torn, answers, among)
    plan.clashes = [
        (one, there) for one in plan.rows for there in clashes_of(one, "patient", to.pk)
    ]
    return plan


def _ask(
    plan: MovePlan, torn: list[Crossing], answers: Mapping[str, str], among: list[Link]
) -> None:
    """Sort the links that are left into those that end and those that a person must answer."""
    by_row: dict[str, list[Crossing]] = defaultdict(list)
    for crossing in torn:
        by_row[key_of(crossing.stays)].append(crossing)
    for key, found in by_row.items():
        may_stay = all(crossing.link.may_end for crossing in found)
        question = Question(
            row=found[0].stays,
            sentences=tuple(dict.fromkeys(_sentence(one, among) for one in found)),
            may_stay=may_stay,
        )
        if may_stay and answers.get(key) == "stays":
            plan.ends += found
        else:
            plan.open_questions.append(question)
        plan.questions.append(question)


def asked_so_far(plan: MovePlan, answers: Mapping[str, str]) -> list[Question]:
    """Return every question the page has to show, those answered with "along" included."""
    among = links()
    answered = []
    for row in plan.rows[1:]:
        if answers.get(key_of(row)) == "along":
            others = {key: ids - {row.pk} if key is type(row) else ids
                      for key, ids in _by_model(plan.rows).items()}  # fmt: skip
            torn = crossings(with_parts(others, among), among)
            mine = [one for one in torn if one.stays == row]
            sentences = tuple(dict.fromkeys(_sentence(one, among) for one in mine))
            may_stay = all(one.link.may_end for one in mine)
            answered.append(Question(row, sentences or (row_words(row) + ".",), may_stay))
    return [*answered, *plan.questions]


def _sentence(crossing: Crossing, among: list[Link]) -> str:
    """Return "Balloon tamping, 07 Mar 2027 treats L1 fracture, began 14 Feb 2027"."""
    first, second = root_of(crossing.row, among), root_of(crossing.target, among)
    return f"{row_words(first)} {crossing.link.relation.says} {row_words(second)}"


def end_words(end: Crossing) -> str:
    """Return the sentence of a link that ends, in the past."""
    return _sentence(end, links())


def _line(row: Any, among: list[Link]) -> Line:
    parts = with_parts(_by_model([row]), among)
    # Rows without a version are written with another and tell nothing by themselves.
    named = [model for model in parts if model is not type(row) and hasattr(model, "version")]
    models = [model for model in named for _ in parts[model]]
    return Line(row_words(row), parts_words(models))


def _by_model(rows: list[Any]) -> Members:
    found: Members = defaultdict(set)
    for row in rows:
        found[type(row)].add(row.pk)
    return found


@dataclass(frozen=True, slots=True)
class Movable:
    """One row that may be moved by itself, for the list of a patient."""

    kind: str
    row: Any
    words: str


def movable_of(patient: Patient) -> list[tuple[str, list[Movable]]]:
    """Return the rows of a patient that may be moved, by kind; of contacts those that were held."""
    found = []
    names = {link.model: link.relation.many for link in own_links(links())}
    for kind, model in KINDS.items():
        rows = model._base_manager.filter(patient=patient, voided_at=None).order_by("pk")
        if model is Review:
            rows = rows.filter(held_on__isnull=False)
        lines = [Movable(kind, row, row_words(row)) for row in rows]
        if lines:
            title = names[model]
            found.append((title[0].upper() + title[1:], lines))
    return found


def open_contacts(patient: Patient) -> list[Review]:
    """Return the contacts of a patient that have not taken place: answers may be moved there."""
    rows = Review.objects.live().filter(patient=patient, held_on=None)
    return list(rows.order_by("target_on", "pk"))


def answers_words(review: Review) -> list[Line]:
    """Return what moves with the answers of a contact."""
    scores = Score.objects.live().filter(review=review)
    values = [
        f"{score.get_instrument_display().partition(',')[0]} {_value(score)}" for score in scores
    ]
    return [Line(f"The answers of: {row_words(review)}", ", ".join(values))]


def _value(score: Score) -> str:
    """Scores are whole numbers; why there is none stands beside the instrument."""
    if score.value is None:
        return words_for(ABSENT, score.absent.get("value", ""))
    return f"{score.value.normalize():f}"
