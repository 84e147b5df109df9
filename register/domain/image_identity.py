"""Whose images these are: what a file says of the person beside what the register says.

A file may name its person in a character set that it does not declare, or another
hospital's number. So nothing here says that images are somebody's: it only names what
differs, for a person to decide.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

from register.domain.days import day_words
from register.domain.names import letters

# What a file may say, in the order in which it is shown.
TOLD: Final = {
    "name": "name",
    "number": "number",
    "birth": "date of birth",
    "sex": "sex",
    "accession": "number of the examination",
}
NOTHING: Final = "nothing"
_SEX: Final = {"M": "male", "F": "female"}


@dataclass(frozen=True, slots=True)
class Known:
    """What the register says of the patient. `numbers` are all that the person has."""

    family_name: str
    given_name: str
    numbers: tuple[str, ...]
    born_on: date
    sex: str = ""


def differences(told: Mapping[str, str], known: Known) -> list[str]:
    """Return what of the told differs, by the keys of TOLD; ["nothing"] when nothing is told.

    A number that is none of the patient's differs, whatever else fits. What the file
    does not say does not differ, but a file that says neither number nor name and date
    of birth says nothing of whose it is.
    """
    named = told.get("number") or (told.get("name") and told.get("birth"))
    if not named:
        return [NOTHING]
    checks = {
        "name": _same_name(told.get("name", ""), known),
        "number": _plain(told.get("number", "")) in {_plain(n) for n in known.numbers if n},
        "birth": born(told.get("birth", "")) == known.born_on,
        "sex": not known.sex or _SEX.get(told.get("sex", "")) in (None, known.sex),
    }
    return [what for what, same in checks.items() if told.get(what) and not same]


def differences_in_words(differs: Iterable[str]) -> str:
    """Return "The name and the date of birth differ." or what stands in its place."""
    listed = [f"the {TOLD[what]}" for what in differs if what in TOLD]
    if not listed:
        return "The files do not say whose images these are."
    words = " and ".join([", ".join(listed[:-1]), listed[-1]] if listed[:-1] else listed)
    return f"{words[0].upper()}{words[1:]} {'differ' if listed[1:] else 'differs'}."


def told_in_words(what: str, text: str) -> str:
    """Return what a file says as it is read by people; the text itself when it fits no form."""
    if what == "birth" and (day := born(text)):
        return day_words(day)
    if what == "sex":
        return _SEX.get(text, text)
    if what == "name":
        family, given = _parts(text)
        return f"{family.upper()}, {given}" if given else text
    return text


def born(text: str) -> date | None:
    """Return a date of birth written YYYY-MM-DD or YYYYMMDD; None for anything else."""
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        return None


def _same_name(told: str, known: Known) -> bool:
    """Whether family name, and the first letters of the given name if told, are the same."""
    family, given = _parts(told)
    if letters(family) != letters(known.family_name):
        return False
    first, mine = letters(given), letters(known.given_name)
    return mine.startswith(first) or first.startswith(mine)


def _parts(name: str) -> tuple[str, str]:
    """Return family and given names of "Family, Given" or "Family^Given^Middle"."""
    family, _, rest = name.replace("^", ",", 1).partition(",")
    return family.strip(), " ".join(rest.replace("^", " ").split())


def _plain(number: str) -> str:
    """Return a number without the spaces and strokes that people put into it."""
    return "".join(sign for sign in number.casefold() if sign.isalnum())
