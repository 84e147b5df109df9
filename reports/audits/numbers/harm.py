"""Complications per procedure, and what none of them can and cannot rule out. Clock: done."""

from dataclasses import dataclass

from register.domain.vocabulary import COMPLICATION, COMPLICATION_GRADE
from reports.audits.rows import Rows
from reports.audits.spec import Period
from reports.audits.values import Counted, Share, Shared, counted, share
from reports.stats.proportions import zero_event_upper_limit


@dataclass(frozen=True, slots=True)
class Harm:
    """Complications of the procedures of a period, as recorded up to the data cut-off.

    `asked` procedures say that somebody asked; for the others (`not_recorded`)
    silence is not "none". `none_limit` is the highest true rate that still
    gives no event in `asked` procedures in one of twenty audits; None when
    nobody was asked.
    """

    procedures: int
    asked: int
    not_recorded: int
    any: Share
    by_kind: tuple[Shared, ...]
    by_grade: tuple[Counted, ...]
    events: int
    none_limit: float | None

    @property
    def seen_kinds(self) -> tuple[Shared, ...]:
        """The kinds that occurred."""
        return tuple(kind for kind in self.by_kind if kind.share.events)

    @property
    def absent_kinds(self) -> tuple[str, ...]:
        """The kinds that did not occur, in words; "another" is not a kind one can rule out."""
        kinds = (kind for kind in self.by_kind if not kind.share.events and kind.code != "other")
        return tuple(kind.words for kind in kinds)


def harm(rows: Rows, period: Period) -> Harm:
    """Count the complications of the procedures of a period; a procedure counts once a kind."""
    done = [row for row in rows.procedures if period.holds(row.performed_on)]
    keys = {row.key for row in done}
    events = [row for row in rows.complications if row.procedure in keys]
    struck = {row.procedure for row in events}
    asked = [row for row in done if row.complication_check or row.key in struck]
    struck_by = {code: {e.procedure for e in events if e.kind == code} for code, _ in COMPLICATION}
    return Harm(
        procedures=len(done),
        asked=len(asked),
        not_recorded=len(done) - len(asked),
        any=share(len(struck), len(asked)),
        by_kind=tuple(
            Shared(code, words, share(len(struck_by[code]), len(asked)))
            for code, words in COMPLICATION
        ),
        by_grade=counted((row.grade for row in events), COMPLICATION_GRADE),
        events=len(events),
        none_limit=zero_event_upper_limit(total=len(asked)) if asked else None,
    )
