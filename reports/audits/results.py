"""All numbers of an audit, before they become words."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from reports.audits.numbers.activity import Activity, activity, by_month
from reports.audits.numbers.contacts import Flow, PersonTime, all_after, flows, person_time
from reports.audits.numbers.harm import Harm, harm
from reports.audits.numbers.heights import Heights, heights
from reports.audits.numbers.leaks import Leaks, leaks
from reports.audits.numbers.pain import PainChange, pain
from reports.audits.rows import Rows
from reports.audits.spec import Period, Spec
from reports.audits.values import Counted

Part = TypeVar("Part")


@dataclass(frozen=True, slots=True)
class Numbers:
    """Everything counted for one period."""

    period: Period
    activity: Activity
    flows: tuple[Flow, ...]
    all_contacts: Flow
    pain: tuple[PainChange, ...]
    leaks: Leaks
    harm: Harm
    heights: Heights


@dataclass(frozen=True, slots=True)
class Results:
    """The quarter, the twelve months, everything; and the twelve months without the quarter."""

    quarter: Numbers
    twelve_months: Numbers
    since_start: Numbers
    before_quarter: Numbers
    by_month: tuple[Counted, ...]
    person_time: PersonTime

    def three(self, part: Callable[[Numbers], Part]) -> tuple[Part, Part, Part]:
        """Return one part of the three periods that tables print, in their order."""
        return part(self.quarter), part(self.twelve_months), part(self.since_start)


def results(spec: Spec, rows: Rows) -> Results:
    """Count everything."""
    return Results(
        quarter=_numbers(spec, rows, spec.quarter),
        twelve_months=_numbers(spec, rows, spec.twelve_months),
        since_start=_numbers(spec, rows, spec.since_start),
        before_quarter=_numbers(spec, rows, spec.before_quarter),
        by_month=by_month(rows, spec.twelve_months),
        person_time=person_time(spec, rows),
    )


def _numbers(spec: Spec, rows: Rows, period: Period) -> Numbers:
    return Numbers(
        period=period,
        activity=activity(spec, rows, period),
        flows=flows(spec, rows, period),
        all_contacts=all_after(spec, rows, period),
        pain=pain(spec, rows, period),
        leaks=leaks(rows, period),
        harm=harm(rows, period),
        heights=heights(spec, rows, period),
    )
