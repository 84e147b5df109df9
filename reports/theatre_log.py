"""How complete the register is by the theatre log: counts, shares and words of one period."""

from dataclasses import dataclass
from datetime import date
from typing import Final

from django.utils.http import urlencode

from register.domain.days import MONTHS
from register.models import Site
from register.selectors.theatre_log import LogCounts, log_counts, quarters_of
from reports.audits.pages.text import in_full
from reports.audits.spec import period_words, quarter_of
from reports.audits.values import clustered_share, share

# The lists of the page: code in the address, words beside the number.
PARTS: Final = (
    ("open", "not found"),
    ("found", "found in the register"),
    ("not-ours", "none of this register"),
    ("unnamed", "recorded, not in the log"),
)


@dataclass(frozen=True, slots=True)
class Period:
    """The days that are compared, both included."""

    first: date
    last: date

    @property
    def words(self) -> str:
        """January to March 2027, or two days."""
        return period_words(self.first, self.last)

    @property
    def boxes(self) -> dict[str, str]:
        """The period as the boxes of the page hold it."""
        return _boxes("first", self.first) | _boxes("last", self.last)

    @property
    def query(self) -> str:
        """The period in an address."""
        return urlencode(self.boxes)


@dataclass(frozen=True, slots=True)
class LoggedQuarter:
    """A quarter that the log has lines of."""

    period: Period
    lines: int


@dataclass(frozen=True, slots=True)
class Comparison:
    """The log and the register of one period."""

    period: Period
    counts: LogCounts

    @property
    def found_words(self) -> str:
        """The share of the log that is in the register; lines of one operation go together."""
        found = clustered_share(self.counts.operations)
        return f"{in_full(found, 'lines')} found in the register"

    @property
    def named_words(self) -> str:
        """The share of the recorded procedures that the log names."""
        return f"{in_full(share(self.counts.named, self.counts.procedures), 'procedures')} named"

    @property
    def lead(self) -> str:
        """The most important fact."""
        if not self.counts.lines:
            return f"{self.period.words}: no line of the log."
        if not self.counts.to_be_found:
            return f"{self.period.words}: no line of the log belongs in this register."
        return f"{self.period.words}: {self.found_words}."

    @property
    def legend(self) -> list[tuple[str, str, int]]:
        """Code, words and number of each list."""
        one = self.counts
        numbers = (one.open, one.found, one.not_ours, one.unnamed)
        return [(*part, number) for part, number in zip(PARTS, numbers, strict=True)]


def compare(site: Site, period: Period) -> Comparison:
    """Count log and register of a period. Two queries."""
    return Comparison(period, log_counts(site, period.first, period.last))


def logged_quarters(site: Site) -> list[LoggedQuarter]:
    """The quarters that the log has lines of, newest first. One query."""
    return [
        LoggedQuarter(quarter_with(first), lines) for first, lines in quarters_of(site)
    ]  # fmt: skip


def _boxes(name: str, day: date) -> dict[str, str]:
    parts = {"day": str(day.day), "month": MONTHS[day.month - 1], "year": f"{day.year:04d}"}
    return {f"{name}_{part}": value for part, value in parts.items()}


def quarter_with(day: date) -> Period:
    """Return the quarter in which a day lies."""
    return Period(*quarter_of(day))
