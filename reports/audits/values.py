"""The kinds of numbers an audit prints, each with what stands behind it."""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, TypeVar

from register.domain.vocabulary import Words
from reports.stats.averages import mean_t_interval, median_interval
from reports.stats.proportions import clustered_proportion, wilson_interval

Item = TypeVar("Item")

# Fewest values for which a mean is given an interval: common practice, no source.
FEWEST_FOR_MEAN: Final = 5


@dataclass(frozen=True, slots=True)
class Share:
    """events of total with its 95 % interval; no interval, and no fraction, of nobody."""

    events: int
    total: int
    lower: float | None
    upper: float | None

    @property
    def fraction(self) -> float | None:
        """The share; None when the group is empty, which is not 0 %."""
        return self.events / self.total if self.total else None


@dataclass(frozen=True, slots=True)
class Average:
    """Mean of n values; the interval is None below FEWEST_FOR_MEAN: too few to tell."""

    n: int
    mean: float | None
    lower: float | None
    upper: float | None


@dataclass(frozen=True, slots=True)
class Middle:
    """Median of n values with its interval, lowest and highest value; None where too few."""

    n: int
    median: float | None
    lower: float | None
    upper: float | None
    lowest: float | None
    highest: float | None


@dataclass(frozen=True, slots=True)
class Counted:
    """How often one entry of a vocabulary occurs; code "" is "not recorded"."""

    code: str
    words: str
    n: int


@dataclass(frozen=True, slots=True)
class Shared:
    """The share of one entry of a vocabulary."""

    code: str
    words: str
    share: Share


def grouped(items: Iterable[Item], key: Callable[[Item], str]) -> dict[str, list[Item]]:
    """Return the items by a key, in the order in which they come; an unknown key is empty."""
    groups: dict[str, list[Item]] = defaultdict(list)
    for item in items:
        groups[key(item)].append(item)
    return groups


def share(events: int, total: int) -> Share:
    """Return a share with its Wilson interval."""
    if not total:
        return Share(0, 0, None, None)
    limits = wilson_interval(events=events, total=total)
    return Share(events, total, limits.lower, limits.upper)


def clustered_share(clusters: Iterable[tuple[int, int]]) -> Share:
    """Return a share of units in clusters of (events, total), such as levels of one procedure."""
    known = [(events, total) for events, total in clusters if total]
    if not known:
        return Share(0, 0, None, None)
    events, total = [e for e, _ in known], [t for _, t in known]
    found = clustered_proportion(events=events, total=total)
    return Share(sum(events), sum(total), found.lower, found.upper)


def average(values: Sequence[Decimal]) -> Average:
    """Return the mean of values that are all recorded."""
    if not values:
        return Average(0, None, None, None)
    found = mean_t_interval(values=[float(value) for value in values])
    if len(values) < FEWEST_FOR_MEAN:
        return Average(len(values), found.mean, None, None)
    return Average(len(values), found.mean, found.lower, found.upper)


def middle(values: Sequence[int]) -> Middle:
    """Return the median of values that are all recorded."""
    if not values:
        return Middle(0, None, None, None, None, None)
    found = median_interval(values=values)
    return Middle(len(values), found.median, found.lower, found.upper, min(values), max(values))


def counted(codes: Iterable[str], vocabulary: Words) -> tuple[Counted, ...]:
    """Count codes in the order of their vocabulary, entries that occur only.

    "Not recorded" comes last and is never left out when there is any. Raises
    KeyError for a code outside the vocabulary.
    """
    seen = Counter(codes)
    words = dict(vocabulary)
    unknown = sorted(set(seen) - set(words) - {""})
    if unknown:
        raise KeyError(f"{unknown[0]!r} is not in the vocabulary.")
    entries = [Counted(code, words[code], seen[code]) for code in words]
    entries.append(Counted("", "not recorded", seen[""]))
    return tuple(entry for entry in entries if entry.n)
