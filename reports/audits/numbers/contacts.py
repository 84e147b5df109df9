"""Who was due, who was seen, and what became of the others. Clock: due."""

from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from reports.audits.rows import ContactRow, ProcedureRow, Rows
from reports.audits.spec import BEFORE, Period, Spec
from reports.audits.values import Share, clustered_share, grouped, share
from reports.stats.loss import completeness_index


class Fate(StrEnum):
    """What became of a contact that fell due; every due contact has exactly one."""

    SEEN = "seen"
    OUTSIDE = "outside"
    DEAD = "dead"
    WITHDRAWN = "withdrawn"
    MOVED = "moved"
    UNABLE = "unable"
    LOST = "lost"
    NOT_SEEN = "not_seen"

    @property
    def words(self) -> str:
        """The fate as tables print it."""
        return {
            "seen": "seen in window",
            "outside": "seen outside it",
            "dead": "died before",
            "withdrawn": "withdrew",
            "moved": "moved away",
            "unable": "unable to answer",
            "lost": "lost",
            "not_seen": "not seen, no reason",
        }[self.value]


Followed = tuple[ContactRow, Fate]


@dataclass(frozen=True, slots=True)
class Flow:
    """The contacts of one timepoint that fell due in a period: due = the sum of all fates.

    `entered_late` of those not seen had closed before their procedure was entered from a list.
    """

    timepoint: str
    title: str
    due: int
    fates: tuple[tuple[Fate, int], ...]
    seen: Share
    entered_late: int

    def count(self, fate: Fate) -> int:
        """Return how many had this fate."""
        return dict(self.fates)[fate]

    @property
    def alive(self) -> int:
        """Due less those who died before: the denominator of completeness."""
        return self.due - self.count(Fate.DEAD)


@dataclass(frozen=True, slots=True)
class PersonTime:
    """Observed share of the follow-up that was owed, None when none is owed yet.

    `owed` and `observed` in days, over `procedures` procedures.
    """

    procedures: int
    owed: int
    observed: int
    index: float | None


def fate(contact: ContactRow, procedure: ProcedureRow, cut_off: date) -> Fate:
    """Return what became of a contact whose window has closed.

    A contact that took place counts by its day. Otherwise the end of the
    patient's follow-up explains it, if that came before the window closed.
    """
    if contact.held_on is not None and contact.held_on <= cut_off:
        inside = contact.opens_on <= contact.held_on <= contact.closes_on
        return Fate.SEEN if inside else Fate.OUTSIDE
    ended = procedure.ended_on is not None and procedure.ended_on <= contact.closes_on
    return Fate(procedure.end) if procedure.end and ended else Fate.NOT_SEEN


def due_contacts(rows: Rows, timepoint: str, period: Period) -> list[ContactRow]:
    """Return the contacts of a timepoint whose window closed in a period."""
    return [c for c in rows.contacts if c.timepoint == timepoint and period.holds(c.closes_on)]


def flows(spec: Spec, rows: Rows, period: Period) -> tuple[Flow, ...]:
    """Follow the contacts of each timepoint, the one before the procedure included."""
    titles = {t.code: t.title for t in spec.protocol.timepoints}
    codes = [BEFORE, *(t.code for t in spec.contacts)]
    return tuple(
        _flow(code, titles.get(code, code), _fates(spec, rows, code, period)) for code in codes
    )


def all_after(spec: Spec, rows: Rows, period: Period) -> Flow:
    """Follow all contacts after the procedure together.

    Several contacts of one procedure are not independent; the interval allows for that.
    """
    found = [one for point in spec.contacts for one in _fates(spec, rows, point.code, period)]
    alive = grouped((one for one in found if one[1] is not Fate.DEAD), lambda one: one[0].procedure)
    clusters = ((sum(one is Fate.SEEN for _, one in own), len(own)) for own in alive.values())
    flow = _flow("all", "all after the procedure", found)
    return replace(flow, seen=clustered_share(clusters))


def person_time(spec: Spec, rows: Rows) -> PersonTime:
    """Return the completeness index over all procedures up to the audit's last day.

    Owed: from the procedure to the target day of the last contact whose window
    has closed, or to death. Observed: to the last contact that took place, at
    most what is owed. After Clark et al., Lancet 2002;359:1309-1310, with the
    potential time bounded by the contacts that the protocol asks for.
    """
    asked = {t.code for t in spec.contacts}
    contacts = grouped((c for c in rows.contacts if c.timepoint in asked), lambda c: c.procedure)
    owed_rows = []
    for procedure in rows.procedures:
        own = contacts[procedure.key]
        owed = _owed(procedure, [c for c in own if spec.since_start.holds(c.closes_on)])
        if owed > 0:
            owed_rows.append((min(owed, _observed(procedure, own, spec.cut_off)), owed, ""))
    return PersonTime(
        procedures=len(owed_rows),
        owed=sum(owed for _, owed, _ in owed_rows),
        observed=sum(seen for seen, _, _ in owed_rows),
        index=completeness_index(rows=owed_rows) if owed_rows else None,
    )


def _fates(spec: Spec, rows: Rows, timepoint: str, period: Period) -> list[Followed]:
    """The fate of each contact of a timepoint that fell due in a period."""
    owners = {row.key: row for row in rows.procedures}
    contacts = due_contacts(rows, timepoint, period)
    return [(c, fate(c, owners[c.procedure], spec.cut_off)) for c in contacts]


def _flow(timepoint: str, title: str, found: list[Followed]) -> Flow:
    fates = [one for _, one in found]
    return Flow(
        timepoint=timepoint,
        title=title,
        due=len(found),
        fates=tuple((one, fates.count(one)) for one in Fate),
        seen=share(fates.count(Fate.SEEN), len(found) - fates.count(Fate.DEAD)),
        entered_late=sum(c.entered_late and one is Fate.NOT_SEEN for c, one in found),
    )


def _owed(procedure: ProcedureRow, closed: list[ContactRow]) -> int:
    """Days from the procedure to the last contact due, or to death if that came first."""
    last = max((c.target_on for c in closed), default=procedure.performed_on)
    if procedure.end == Fate.DEAD and procedure.ended_on is not None:
        last = min(last, procedure.ended_on)
    return (last - procedure.performed_on).days


def _observed(procedure: ProcedureRow, own: list[ContactRow], cut_off: date) -> int:
    """Days from the procedure to the last contact that took place, or to a known death."""
    seen = [c.held_on for c in own if c.held_on is not None and c.held_on <= cut_off]
    if procedure.end == Fate.DEAD and procedure.ended_on is not None:
        seen.append(procedure.ended_on)
    return max(0, (max(seen) - procedure.performed_on).days) if seen else 0
