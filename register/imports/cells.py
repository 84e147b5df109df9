"""From one cell to one value, or to words that say what to write instead.

Numbers and NHS Numbers go through the fields of the forms, so that a file is
held to the same rules as a person at the keyboard.
"""

import re
from collections.abc import Callable
from copy import copy
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any, Final

from django import forms
from django.core.exceptions import ValidationError

from register.domain.days import day_words
from register.domain.levels import TREATABLE_CODES, order
from register.domain.vocabulary import ABSENT, ANTITHROMBOTIC, ANTITHROMBOTIC_INDICATION, Words
from register.forms.dates import KnownDate
from register.forms.identifiers import NhsNumberField
from register.imports.dates import DateRefused, OtherOrder, read_date
from register.imports.decoding import looks_damaged
from register.imports.table import TypedCell

_POWER: Final = re.compile(r"[0-9]+([.,][0-9]+)?E\+?[0-9]+", re.IGNORECASE)
_POINT_ZERO: Final = re.compile(r"[0-9]+[.,]0+")
_TELEPHONE: Final = re.compile(r"[0+][0-9 ()-]{5,22}(?: ?(?:x|ext) ?[0-9]+)?")
_YES_NO: Final = {"yes": True, "y": True, "no": False, "n": False}


class CellRefused(Exception):
    """The message names the column and says what to do."""


class OrderDoubted(CellRefused):
    """A date that only another order explains: then no date of the file can be trusted."""


@dataclass(frozen=True, slots=True)
class Reading:
    """How the cells of one file are read: the order of its dates, and the day of reading."""

    date_order: str
    today: date


@dataclass(frozen=True, slots=True)
class Absent:
    """The cell gives the reason why there is no value (a code of vocabulary.ABSENT)."""

    reason: str


Reader = Callable[[str, str, Reading], Any]  # column name, text, how


def plain(text: str) -> str:
    """Return a word of a vocabulary without case and spelling of its blanks."""
    return " ".join(text.casefold().replace("_", " ").split()).rstrip(".")


_REASONS: Final = {plain(words): code for code, words in ABSENT}


def reason_in(text: str) -> Absent | None:
    """Return the reason for an empty cell when the cell is one of the four."""
    found = _REASONS.get(plain(text))
    return Absent(found) if found else None


def words(longest: int, *, lines: bool = False) -> Reader:
    """A text of at most `longest` letters, with line breaks only where `lines` allows them."""

    def read(name: str, text: str, how: Reading) -> str:
        _refuse_typed(name, text)
        if whole := looks_damaged(text):
            raise CellRefused(
                f"{name}: “{text}” has damaged letters, perhaps “{whole}”. Save the file again "
                "as “CSV UTF-8” from the program it comes from."
            )
        if not (text.replace("\n", "").replace("\r", "") if lines else text).isprintable():
            raise CellRefused(f"{name}: remove line breaks and signs that cannot be printed.")
        if len(text) > longest:
            raise CellRefused(f"{name}: shorten it to {longest} letters, it has {len(text)}.")
        return text

    return read


def number(field: forms.Field) -> Reader:
    """A number, read by the field of the form; refusals name the column in place of its label."""
    named = _named(field)

    def read(name: str, text: str, how: Reading) -> Any:
        return _by_field(named(name), text)

    return read


def identifier(longest: int) -> Reader:
    """A number of a person, kept as text; refused when a spreadsheet has changed it."""
    read_words = words(longest)

    def read(name: str, text: str, how: Reading) -> str:
        _refuse_typed(name, text)
        _refuse_spreadsheet_number(name, text)
        kept: str = read_words(name, text, how)
        return kept

    return read


def telephone(name: str, text: str, how: Reading) -> str:
    """A telephone number; one without its leading 0 or + would ring nobody."""
    _refuse_typed(name, text)
    _refuse_spreadsheet_number(name, text)
    if not _TELEPHONE.fullmatch(text):
        raise CellRefused(
            f"{name}: “{text}” does not begin with 0 or +, or is no single number. A spreadsheet "
            "may have removed the 0: format the column as text and copy the number again."
        )
    return text


def nhs_number(name: str, text: str, how: Reading) -> str:
    """Ten digits with a right check digit; blanks and dashes may stand between them."""
    _refuse_typed(name, text)
    _refuse_spreadsheet_number(name, text)
    digits = re.sub(r"[^0-9]", "", text)
    if len(digits) == 9:
        raise CellRefused(
            f"{name}: {text} has 9 figures, an NHS Number has 10. A spreadsheet may have "
            "removed a 0 in front: format the column as text and copy the number again."
        )
    return str(_by_field(_NHS_NUMBER(name), text))


def a_date(name: str, text: str, how: Reading) -> date:
    """A day, not after today."""
    return _date(name, text, how).on


def uncertain_date(name: str, text: str, how: Reading) -> KnownDate:
    """A day, a month or a year, not after today."""
    return _date(name, text, how, may_be_uncertain=True)


# The readers whose values are days.
OF_DATES: Final[tuple[Reader, ...]] = (a_date, uncertain_date)


def one_of(vocabulary: Words) -> Reader:
    """One answer of a vocabulary, by its code or its words."""
    by_word = _by_word(vocabulary)

    def read(name: str, text: str, how: Reading) -> str:
        return _found(name, text, by_word, vocabulary)

    return read


def some_of(vocabulary: Words) -> Reader:
    """Several answers with a semicolon between them."""
    by_word = _by_word(vocabulary)

    def read(name: str, text: str, how: Reading) -> list[str]:
        found = [_found(name, part, by_word, vocabulary) for part in parts(text)]
        if "none" in found and len(found) > 1:
            raise CellRefused(f"{name}: “none” cannot stand beside another answer. Remove one.")
        return sorted(set(found), key=[code for code, _ in vocabulary].index)

    return read


def yes_or_no(name: str, text: str, how: Reading) -> bool:
    """Yes or no."""
    answer = _YES_NO.get(plain(text))
    if answer is None:
        raise CellRefused(f"{name}: write yes or no instead of “{text}”.")
    return answer


def levels(name: str, text: str, how: Reading) -> tuple[str, ...]:
    """Levels T1 to L5 with blanks or semicolons between them, from the head down."""
    found = [
        part for part in re.split(r"[\s;,+&]+|\band\b", text.upper().replace("AND", " ")) if part
    ]
    for part in found:
        if part not in TREATABLE_CODES:
            raise CellRefused(
                f"{name}: “{part}” is not a level from T1 to L5. Write each level by itself, "
                "for example T12 L1."
            )
    if len(set(found)) < len(found):
        raise CellRefused(f"{name}: a level stands there twice in “{text}”. Remove one.")
    return tuple(sorted(found, key=order))


def drugs(name: str, text: str, how: Reading) -> tuple[tuple[str, str], ...]:
    """Antithrombotic drugs with the reason in brackets; () for "none".

    apixaban (atrial fibrillation); aspirin
    """
    if plain(text) in ("none", "no"):
        return ()
    found = tuple(_drug(name, part) for part in parts(text))
    if len({drug for drug, _ in found}) < len(found):
        raise CellRefused(f"{name}: a drug stands there twice. Remove one.")
    return found


def _drug(name: str, text: str) -> tuple[str, str]:
    match = re.fullmatch(r"([^()]+?)\s*(?:\(([^()]*)\))?", text)
    if match is None:
        raise CellRefused(f"{name}: write “{text}” as drug (reason), for example aspirin (stroke).")
    drug = _found(name, match[1], _by_word(ANTITHROMBOTIC), ANTITHROMBOTIC)
    why = match[2] or ""
    indications = ANTITHROMBOTIC_INDICATION
    return drug, _found(name, why, _by_word(indications), indications) if why.strip() else ""


def _date(name: str, text: str, how: Reading, *, may_be_uncertain: bool = False) -> KnownDate:
    try:
        known = read_date(text, how.date_order, may_be_uncertain=may_be_uncertain)
    except OtherOrder as error:
        raise OrderDoubted(f"{name}: {error}") from error
    except DateRefused as error:
        raise CellRefused(f"{name}: {error}") from error
    if known.on > how.today:
        raise CellRefused(f"{name}: {day_words(known.on)} has not come yet. Correct the date.")
    return known


def _named(field: forms.Field) -> Callable[[str], forms.Field]:
    """Return a way to the field under each name: a copy, since files are read side by side."""

    @cache
    def under(name: str) -> forms.Field:
        own = copy(field)
        own.label = name
        return own

    return under


def _by_field(field: forms.Field, text: str) -> Any:
    try:
        return field.clean(text)
    except ValidationError as error:
        raise CellRefused(" ".join(error.messages)) from error


_NHS_NUMBER: Final = _named(NhsNumberField())


def _refuse_spreadsheet_number(name: str, text: str) -> None:
    if _POWER.fullmatch(text) or _POINT_ZERO.fullmatch(text):
        raise CellRefused(
            f"{name}: a spreadsheet has turned the number into {text}. Format the column as "
            "text, copy the numbers again from their source, and send the file again."
        )


def _refuse_typed(name: str, text: str) -> None:
    """Refuse a cell that a workbook does not keep as text: it may not be what was typed."""
    if not isinstance(text, TypedCell):
        return
    if text.stored_as == "number":
        raise CellRefused(
            f"{name}: {text} came as a number, so zeros in front may be lost. Format the column "
            "as text and copy the values again from their source."
        )
    raise CellRefused(
        f"{name}: {text} came as a {text.stored_as} of the workbook, not as text. Format the "
        "column as text and copy the values again from their source."
    )


def parts(text: str) -> list[str]:
    """Return what stands in a cell with semicolons or bars between."""
    return [part.strip() for part in re.split(r"[;|]", text) if part.strip()]


def _by_word(vocabulary: Words) -> dict[str, str]:
    return {plain(word): code for code, said in vocabulary for word in (code, said)}


def _found(name: str, text: str, by_word: dict[str, str], vocabulary: Words) -> str:
    found = by_word.get(plain(text))
    if found is None:
        answers = "; ".join(said for _, said in vocabulary)
        raise CellRefused(f"{name}: “{text}” is not one of the answers: {answers}.")
    return found
