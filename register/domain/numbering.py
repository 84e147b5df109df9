"""How the levels of one examination were counted, and where two examinations disagree."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations


@dataclass(frozen=True, slots=True)
class Numbering:
    """What one study says. `transitional` is "" and `ribs` None where not recorded.

    `agreed` says that a person explained how it agrees with another numbering.
    """

    study: int
    transitional: str = ""
    ribs: int | None = None
    agreed: bool = False

    def differs_from(self, other: "Numbering") -> bool:
        """Whether both say something of the same and not the same: what is missing differs not."""
        return _differ(self.transitional, other.transitional) or _differ(self.ribs, other.ribs)


def _differ(one: object, other: object) -> bool:
    return one not in ("", None) and other not in ("", None) and one != other


def disagreements(numberings: Sequence[Numbering]) -> list[tuple[int, int]]:
    """Return the pairs of studies that number differently and that nobody reconciled.

    One of the two that carries an explanation settles the pair. A level counted in two
    ways is a wrong level waiting to happen, so a pair stays until a person has spoken.
    """
    return [
        (one.study, other.study)
        for one, other in combinations(numberings, 2)
        if one.differs_from(other) and not (one.agreed or other.agreed)
    ]
