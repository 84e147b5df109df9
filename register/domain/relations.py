"""How rows hang together: what is a patient's own, what is part of what, what must agree.

Each app declares the relations of its models in its module `relations`. Giving a row
to another patient walks them; a relation that nobody declared stops it.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final


class Bond(StrEnum):
    """What a foreign key says about whose the row is."""

    OWN = "own"  # the column names the patient
    PART = "part"  # the row is a part of what it points at, and is always where that is
    FOLLOWS = "follows"  # the same patient; goes along when what it points at goes
    AGREES = "agrees"  # the same patient; whether it goes along is for a person to say
    APART = "apart"  # says nothing about whose the row is: stays as it is


@dataclass(frozen=True, slots=True)
class Relation:
    """One foreign key.

    `one` and `many` name rows of a patient's own. `says` stands between the two
    ends in a sentence: "Balloon tamping, 07 Mar 2027" treats "L1 fracture".
    """

    bond: Bond
    one: str = ""
    many: str = ""
    says: str = ""


def own(one: str, many: str) -> Relation:
    """A column that names the patient; the words are those for one row and for several."""
    return Relation(Bond.OWN, one=one, many=many)


def follows(says: str) -> Relation:
    """A row that goes along by itself."""
    return Relation(Bond.FOLLOWS, says=says)


def agrees(says: str) -> Relation:
    """A row of the same patient that does not go along by itself."""
    return Relation(Bond.AGREES, says=says)


PART: Final = Relation(Bond.PART)
APART: Final = Relation(Bond.APART)
