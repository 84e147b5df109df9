"""Spinal levels: a closed, ordered vocabulary of plain strings, C1 to S5.

The register treats T1 to L5; cervical and sacral codes exist because a study
may count from them and a lesion may be elsewhere.
"""

from typing import Final

CERVICAL: Final = tuple(f"C{n}" for n in range(1, 8))
THORACIC: Final = tuple(f"T{n}" for n in range(1, 13))
LUMBAR: Final = tuple(f"L{n}" for n in range(1, 6))
SACRAL: Final = tuple(f"S{n}" for n in range(1, 6))

LEVEL_CODES: Final = CERVICAL + THORACIC + LUMBAR + SACRAL
TREATABLE_CODES: Final = THORACIC + LUMBAR
LEVEL_CHOICES: Final = [(code, code) for code in LEVEL_CODES]
TREATABLE_CHOICES: Final = [(code, code) for code in TREATABLE_CODES]

_ORDER: Final = {code: place for place, code in enumerate(LEVEL_CODES)}
_REGION_WORDS: Final = {"C": "cervical", "T": "thoracic", "L": "lumbar", "S": "sacral"}
_NUMBER_WORDS: Final = (
    "first",
    "second",
    "third",
    "fourth",
    "fifth",
    "sixth",
    "seventh",
    "eighth",
    "ninth",
    "tenth",
    "eleventh",
    "twelfth",
)


def order(level: str) -> int:
    """Return the place of a level counted from C1 = 0. Raises ValueError for an unknown code."""
    try:
        return _ORDER[level]
    except KeyError:
        raise ValueError(
            f"{level!r} is not a spinal level; use C1 to S5, for example L1."
        ) from None


def in_words(level: str) -> str:
    """Return the level as it is said aloud, so that T11 and L1 cannot be misheard on a list."""
    order(level)
    return f"{_NUMBER_WORDS[int(level[1:]) - 1]} {_REGION_WORDS[level[0]]} vertebra"


def above(level: str) -> str | None:
    """Return the next level towards the head; None above C1."""
    place = order(level)
    return LEVEL_CODES[place - 1] if place else None


def below(level: str) -> str | None:
    """Return the next level towards the tail; None below S5."""
    place = order(level)
    return LEVEL_CODES[place + 1] if place + 1 < len(LEVEL_CODES) else None


def distance(one: str, other: str) -> int:
    """Return how many levels apart two levels are: 0 the same, 1 neighbours."""
    return abs(order(one) - order(other))


def region(level: str) -> str:
    """Return the audit region: thoracic T1-T10, thoracolumbar T11-L2, lumbar L3-L5.

    T11 to L2 as the thoracolumbar junction is common practice (no source).
    """
    place = order(level)
    if place < order("T1") or place > order("L5"):
        return "elsewhere"
    if place < order("T11"):
        return "thoracic"
    return "thoracolumbar" if place <= order("L2") else "lumbar"
