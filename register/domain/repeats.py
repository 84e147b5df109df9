"""Repeat readings: which two measurements of one level on one study are compared with each other.

The same observer at two times, or two observers. Of several the first two in time that
may be compared count, so that nobody is counted twice; those left out are counted by reason.
"""

import itertools
from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Final

from register.domain.comparing import WHY_NOT, Circumstances, why_not_comparable
from register.domain.vocabulary.base import Words

# Reasons of this comparison alone, beside those of `comparing`.
LEFT_OUT: Final[Words] = (
    *WHY_NOT,
    ("end_plates", "end plates not named alike"),
    ("seen", "the first reading was not hidden"),
)


class Kind(StrEnum):
    """Who read again."""

    SAME = "same"
    TWO = "two"

    @property
    def words(self) -> str:
        """The kind as pages print it."""
        return {"same": "same observer", "two": "two observers"}[self.value]


@dataclass(frozen=True, slots=True)
class Measure:
    """One number of a measurement: its field, its name, "mm" or "°".

    `by_end_plates`: papers mean different end plates by its name, so that two
    readings are one thing only when they name the same ones.
    """

    field: str
    name: str
    unit: str
    by_end_plates: bool = False

    @property
    def is_length(self) -> bool:
        """Whether it needs a scale."""
        return self.unit == "mm"


HEIGHTS: Final = (
    Measure("anterior_height_mm", "Anterior height", "mm"),
    Measure("middle_height_mm", "Middle height", "mm"),
    Measure("posterior_height_mm", "Posterior height", "mm"),
)
ANGLES: Final = (
    Measure("vertebral_angle_deg", "Vertebral angle", "°"),
    Measure("local_angle_deg", "Local angle", "°", by_end_plates=True),
    Measure("segmental_angle_deg", "Segmental angle", "°", by_end_plates=True),
)
MEASURES: Final = (*HEIGHTS, Measure("depth_mm", "Depth", "mm"), *ANGLES)


@dataclass(frozen=True, slots=True)
class Measured:
    """One measurement of one level. `values` holds what was recorded, by field.

    `key` orders those of one day by their entry. `marking` holds the marks it came
    from, `repeats` those that its observer marked again without seeing them.
    """

    key: int
    patient: int
    study: int
    level: str
    observer: int
    measured_on: date
    circumstances: Circumstances
    values: Mapping[str, Decimal]
    end_plates: str = ""
    marking: int | None = None
    repeats: int | None = None


@dataclass(frozen=True, slots=True)
class Pair:
    """Two readings of one thing, the earlier one first."""

    first: Measured
    second: Measured

    @property
    def is_blinded(self) -> bool:
        """Whether the first was hidden from whoever read again."""
        return self.first.marking is not None and self.second.repeats == self.first.marking


@dataclass(frozen=True, slots=True)
class Pairs:
    """All pairs of one measure and kind; `left_out` counts levels read twice, by reason."""

    measure: Measure
    kind: Kind
    pairs: tuple[Pair, ...]
    left_out: tuple[tuple[str, int], ...]

    @property
    def first(self) -> list[float]:
        """The earlier value of each pair."""
        return [float(pair.first.values[self.measure.field]) for pair in self.pairs]

    @property
    def second(self) -> list[float]:
        """The later value of each pair, in the same order."""
        return [float(pair.second.values[self.measure.field]) for pair in self.pairs]

    @property
    def patients(self) -> int:
        """How many patients they come from; pairs of one patient are not independent."""
        return len({pair.first.patient for pair in self.pairs})

    @property
    def blinded(self) -> int:
        """How many of them are blinded."""
        return sum(pair.is_blinded for pair in self.pairs)


def pairs_of(
    readings: Iterable[Measured], measure: Measure, kind: Kind, *, blinded_only: bool = False
) -> Pairs:
    """Return one pair at most for each level of a study and, with one observer, each observer."""
    found: list[Pair] = []
    lost: Counter[str] = Counter()
    for group in _groups(readings, measure, kind):
        candidates = [pair for pair in _candidates(group) if _is_of(pair, kind)]
        reasons = [_why_left_out(pair, measure, blinded_only) for pair in candidates]
        if "" in reasons:
            found.append(candidates[reasons.index("")])
        elif reasons:
            lost[reasons[0]] += 1
    left_out = tuple((words, lost[code]) for code, words in LEFT_OUT if lost[code])
    return Pairs(measure, kind, tuple(found), left_out)


def _groups(
    readings: Iterable[Measured], measure: Measure, kind: Kind
) -> Iterator[Sequence[Measured]]:
    groups: dict[Hashable, list[Measured]] = defaultdict(list)
    for one in readings:
        if measure.field in one.values:
            observer = one.observer if kind is Kind.SAME else None
            groups[one.study, one.level, observer].append(one)
    for _, group in sorted(groups.items(), key=lambda item: min(one.key for one in item[1])):
        yield sorted(group, key=lambda one: (one.measured_on, one.key))


def _candidates(group: Sequence[Measured]) -> Iterator[Pair]:
    """Yield every two of a group, the earliest first."""
    return itertools.starmap(Pair, itertools.combinations(group, 2))


def _is_of(pair: Pair, kind: Kind) -> bool:
    same = pair.first.observer == pair.second.observer
    return same if kind is Kind.SAME else not same


def _why_left_out(pair: Pair, measure: Measure, blinded_only: bool) -> str:
    why = why_not_comparable(
        pair.first.circumstances, pair.second.circumstances, in_mm=measure.is_length
    )
    if why:
        return why
    plates = {_end_plates(pair.first, measure), _end_plates(pair.second, measure)}
    if measure.by_end_plates and (len(plates) > 1 or "" in plates):
        return "end_plates"
    return "seen" if blinded_only and not pair.is_blinded else ""


def _end_plates(one: Measured, measure: Measure) -> str:
    """Return the end plates of one angle, from "local: upper T12 to lower L1; segmental: …".

    A text that was typed without the names of the angles stands for all of them.
    """
    text = one.end_plates.casefold()
    named = dict(part.strip().partition(": ")[::2] for part in text.split(";"))
    return named.get(measure.field.partition("_")[0], text)
