"""How pain changed from before the procedure to each contact, and what the missing could hide.

Clock: due. Unit: procedures. Only scores taken inside the window count, paired
with the score taken before the same procedure; a missing score is never read
as a number.
"""

from collections import Counter
from dataclasses import dataclass
from decimal import Decimal

from register.domain.important_change import Bounds, important_change_by
from register.domain.timepoints import Timepoint
from register.domain.vocabulary import ABSENT
from reports.audits.numbers.contacts import Fate, due_contacts, fate
from reports.audits.rows import Rows, ScoreRow
from reports.audits.spec import BEFORE, Period, Spec
from reports.audits.values import Average, Counted, Share, average, counted, share
from reports.stats.loss import LossBounds, loss_bounds


@dataclass(frozen=True, slots=True)
class PainChange:
    """One timepoint in one period.

    due = dead + not_seen + no_score + no_baseline + pairs. `change` is contact
    minus before in points: negative is less pain. `by_percent` leaves out
    `baseline_nought` pairs that began at 0. `bounds` are those of `by_points`
    over all who were due and alive; None when there is nobody.
    """

    timepoint: str
    title: str
    due: int
    dead: int
    not_seen: int
    no_score: int
    no_score_reasons: tuple[Counted, ...]
    no_baseline: int
    pairs: int
    before: Average
    after: Average
    change: Average
    by_points: Share
    by_percent: Share
    baseline_nought: int
    bounds: LossBounds | None

    @property
    def alive(self) -> int:
        """Due less those who died before."""
        return self.due - self.dead


def pain(spec: Spec, rows: Rows, period: Period) -> tuple[PainChange, ...]:
    """Return the change at every contact that the protocol asks for after the procedure."""
    scores = {row.contact: row for row in rows.scores if row.instrument == spec.pain}
    baselines = _baselines(rows, scores)
    return tuple(_change(spec, rows, period, point, scores, baselines) for point in spec.contacts)


def _baselines(rows: Rows, scores: dict[str, ScoreRow]) -> dict[str, Decimal]:
    """Procedure -> the score before it. A contact held after the procedure is no baseline."""
    days = {row.key: row.performed_on for row in rows.procedures}
    found = {}
    for contact in rows.contacts:
        score = scores.get(contact.key)
        held = contact.held_on is not None and contact.held_on <= days[contact.procedure]
        if contact.timepoint == BEFORE and held and score and score.value is not None:
            found[contact.procedure] = score.value
    return found


def _change(
    spec: Spec,
    rows: Rows,
    period: Period,
    point: Timepoint,
    scores: dict[str, ScoreRow],
    baselines: dict[str, Decimal],
) -> PainChange:
    owners = {row.key: row for row in rows.procedures}
    fates = {
        contact: fate(contact, owners[contact.procedure], spec.cut_off)
        for contact in due_contacts(rows, point.code, period)
    }
    seen = [contact for contact, one in fates.items() if one is Fate.SEEN]
    values = {c.procedure: scores[c.key].value if c.key in scores else None for c in seen}
    reasons = [
        scores[c.key].reason if c.key in scores else "" for c in seen if values[c.procedure] is None
    ]
    scored = {owner: value for owner, value in values.items() if value is not None}
    pairs = [(baselines[owner], value) for owner, value in scored.items() if owner in baselines]
    dead = Counter(fates.values())[Fate.DEAD]
    return _numbers(
        spec,
        point,
        pairs,
        due=len(fates),
        dead=dead,
        not_seen=len(fates) - dead - len(seen),
        reasons=reasons,
        no_baseline=len(scored) - len(pairs),
    )


def _numbers(
    spec: Spec,
    point: Timepoint,
    pairs: list[tuple[Decimal, Decimal]],
    *,
    due: int,
    dead: int,
    not_seen: int,
    reasons: list[str],
    no_baseline: int,
) -> PainChange:
    bounds = Bounds.of(spec.protocol)
    changes = [important_change_by(bounds, "nrs", before, after) for before, after in pairs]
    points = sum(one.by_points for one in changes)
    in_percent = [one.by_percent for one in changes if one.by_percent is not None]
    alive = due - dead
    return PainChange(
        timepoint=point.code,
        title=point.title,
        due=due,
        dead=dead,
        not_seen=not_seen,
        no_score=len(reasons),
        no_score_reasons=counted(reasons, ABSENT),
        no_baseline=no_baseline,
        pairs=len(pairs),
        before=average([before for before, _ in pairs]),
        after=average([after for _, after in pairs]),
        change=average([one.change for one in changes]),
        by_points=share(points, len(pairs)),
        by_percent=share(sum(in_percent), len(in_percent)),
        baseline_nought=len(pairs) - len(in_percent),
        bounds=loss_bounds(treated=alive, followed=len(pairs), responders=points)
        if alive
        else None,
    )
