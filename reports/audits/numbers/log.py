"""The hospital's theatre log beside the register. Clock: done."""

from dataclasses import dataclass
from datetime import date

from reports.audits.rows import Rows
from reports.audits.spec import Period
from reports.audits.values import Share, clustered_share, grouped


@dataclass(frozen=True, slots=True)
class Logged:
    """The lines of a period, from the first to the last of their days; None without any.

    `in_register` is the share of them that are recorded procedures, without `not_ours`,
    which are none of this register; lines of one operation are not independent.
    """

    lines: int
    not_ours: int
    first_on: date | None
    last_on: date | None
    in_register: Share


def logged(rows: Rows, period: Period) -> Logged:
    """Count the lines of the theatre log in a period."""
    lines = [row for row in rows.log_lines if period.holds(row.performed_on)]
    days = [row.performed_on for row in lines]
    ours = [row for row in lines if row.became != "not_ours"]
    operations = grouped(ours, lambda row: row.operation or row.key).values()
    return Logged(
        lines=len(lines),
        not_ours=len(lines) - len(ours),
        first_on=min(days, default=None),
        last_on=max(days, default=None),
        in_register=clustered_share(
            (sum(row.became == "found" for row in own), len(own)) for own in operations
        ),
    )
