"""The columns of a file of follow-up scores."""

from typing import Any, Final

from register.domain import vocabulary as v
from register.domain.scores import INSTRUMENTS, Instrument
from register.forms.clock import ClockField
from register.forms.scores import score_field
from register.imports import cells
from register.imports.column import DAY, Column, answers, some, taken
from register.imports.people import identity_columns
from register.models import Review

_SHORT: Final = {
    "pain_now": "Pain now",
    "pain_worst": "Worst pain",
    "pain_moving": "Pain on movement",
    "disability_24": "Disability total",
    "disability_percent": "Disability index",
    "analgesic_step": "Analgesic step",
    "mobility": "Mobility",
    "new_pain": "New pain",
    "falls": "Falls",
    "bone_drug": "Bone drug",
}
_EXAMPLES: Final = {
    "pain_now": "3",
    "pain_worst": "5",
    "pain_moving": "4",
    "disability_24": "9",
    "analgesic_step": "1",
    "mobility": "walks with an aid",
    "new_pain": "no",
    "falls": "0",
    "bone_drug": "yes",
}


def score(asked: Instrument) -> cells.Reader:
    """A score, read by the box of the contact's page; an answer may stand in its words.

    "3", "walks with an aid" and "3 walks with an aid" are one answer.
    """
    read_number = cells.number(score_field(asked))
    answer_none = next((f"{digit} none" for digit, words in asked.answers if words == "none"), "")
    digits = {
        cells.plain(spelt): int(digit)
        for digit, words in asked.answers
        for spelt in (words, f"{digit} {words}")
    }

    def read(name: str, text: str, how: cells.Reading) -> Any:
        if answer_none:
            _refuse_bare_none(name, text, answer_none)
        found = digits.get(cells.plain(text))
        if found is not None:
            return found
        if digits and not any(sign.isdigit() for sign in text):
            raise cells.CellRefused(
                f"{name}: “{text}” is not one of the answers: {_answers(asked)}."
            )
        return read_number(name, text, how)

    return read


def _warning_signs(name: str, text: str, how: cells.Reading) -> Any:
    """The signs that were told of, or in full words that nobody told of one."""
    _refuse_bare_none(name, text, v.words_for(v.RED_FLAG, "none"))
    return _SIGNS(name, text, how)


_SIGNS: Final = cells.some_of(v.RED_FLAG)


def _refuse_bare_none(name: str, text: str, instead: str) -> None:
    """Refuse what exports write into an empty cell; nobody may have asked."""
    if cells.plain(text) == "none":
        raise cells.CellRefused(
            f"{name}: “{text}” may be the answer or an empty cell. Write “{instead}” for the "
            "answer, or leave the cell empty."
        )


def _answers(asked: Instrument) -> str:
    return "; ".join(f"{digit} {words}" for digit, words in asked.answers)


def _score(code: str) -> Column:
    asked = INSTRUMENTS[code]
    within = _answers(asked) or f"A whole number from {asked.low} to {asked.high}"
    question = "" if asked.question == _SHORT[code] else f"{asked.question}. "
    return Column(
        _SHORT[code], "score", code, score(asked), f"{question}{within}.",
        _EXAMPLES.get(code, ""), may_be_absent=True,
    )  # fmt: skip


COLUMNS: Final[tuple[Column, ...]] = (
    *identity_columns("family_name", "date_of_birth"),
    taken(Review, "held_on", "Contact date", DAY, example="04 Jun 2027", needed=True),
    Column("Time point", "contact", "timepoint", cells.words(40),
           "As the protocol names it: before, 2 to 4 weeks, 3 months. May stay empty where the "
           "contact date lies in one window only.", "3 months"),
    Column("Treatment date", "contact", "anchor_on", cells.a_date,
           "Of the procedure, or of the decision for conservative care. Needed where the "
           "contact could follow two of them.", "05 Mar 2027"),
    Column("Levels", "contact", "levels", cells.levels,
           "The treated levels, for the same purpose.", "L1"),
    taken(Review, "mode", "How", answers(v.CONTACT_MODE), example="telephone"),
    taken(Review, "informant", "Who answered", answers(v.INFORMANT), example="the patient"),
    taken(Review, "informant_name", "Name of relative or carer", "When not the patient answered."),
    *(_score(code) for code in INSTRUMENTS),
    Column("Why unlikely", "contact", "unlikely_reason", cells.words(200),
           "Why a value is right that the page would question, such as pain that changed by "
           f"{INSTRUMENTS['pain_now'].unlikely_change}."),
    taken(Review, "red_flags", "Warning signs", some(v.RED_FLAG),
        read=_warning_signs, example="asked, none of these"),
    taken(Review, "red_flags_told", "Told whom",
        "Needed beside a warning sign, with day and time."),
    Column("Told on", "told", "on", cells.a_date, "As the other dates."),
    Column("Told at", "told", "at", cells.number(ClockField()), "For example 14:05."),
    taken(Review, "note", "Note", "", read=cells.words(2000, lines=True)),
)  # fmt: skip
