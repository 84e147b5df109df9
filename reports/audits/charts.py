"""The figures of an audit, described from its numbers. A group that is too small is a gap."""

from collections.abc import Sequence

from reports.audits.numbers.contacts import Flow
from reports.audits.numbers.heights import Heights
from reports.audits.numbers.leaks import Leaks
from reports.audits.numbers.pain import PainChange
from reports.audits.spec import Spec
from reports.audits.values import FEWEST_FOR_MEAN, Average, Counted, Share, Shared
from reports.figures.description import (
    Axis,
    Figure,
    Point,
    Reference,
    Series,
    Shape,
    Tick,
    even_ticks,
)

PERCENT_AXIS = Axis("%", 0, 100, even_ticks(0, 100, 20), unit="%")
WILSON = "Points: share in percent; lines: 95 % Wilson interval."
T_INTERVAL = "Points: mean; lines: 95 % t interval; nothing is drawn below five values."


def by_month(months: Sequence[Counted]) -> Figure:
    """Procedures by month; a month without any shows 0, a year without any shows nothing.

    The range grows with the busiest month.
    """
    busy = any(month.n for month in months)
    highest = max(4, *(month.n for month in months))
    step = 1 if highest <= 6 else 2 if highest <= 14 else 5
    top = -(-highest // step) * step
    points = tuple(
        Point(at, month.words, month.n if busy else None) for at, month in enumerate(months)
    )
    return Figure(
        id="procedures-by-month",
        title="Procedures by month",
        places=Axis(
            "month",
            -0.6,
            len(months) - 0.4,
            tuple(Tick(at, month.words[:3]) for at, month in enumerate(months)),
        ),
        values=Axis("procedures", 0, top, even_ticks(0, top, step)),
        series=(Series("procedures", Shape.BARS, points),),
        method="Clock: done.",
    )


def completeness(quarter: Sequence[Flow], twelve: Sequence[Flow]) -> Figure:
    """Share of the contacts due and alive that were seen in the window."""
    titles = [flow.title for flow in twelve]
    return _shares(
        "completeness",
        "Contacts seen in their window, of those due and alive",
        titles,
        [
            ("Quarter", [flow.seen for flow in quarter]),
            ("Twelve months", [flow.seen for flow in twelve]),
        ],
        f"Clock: due. {WILSON}",
    )


def leaks(twelve: Leaks, everything: Leaks) -> Figure:
    """Leaks per level by route, over the levels looked at."""
    routes = [entry for entry in everything.by_route if entry.code]
    names = ["any leak", *(entry.words for entry in routes)]
    parts = [
        (name, [one.per_level, *(_entry(one.by_route, entry.code) for entry in routes)])
        for name, one in (("Twelve months", twelve), ("Since start", everything))
    ]
    return _shares(
        "leaks-by-route",
        "Levels with cement outside the bone, of those looked at",
        names,
        parts,
        "Clock: done. Points: share in percent; lines: 95 % Wilson interval widened for several "
        "levels in one procedure.",
    )


def pain(spec: Spec, twelve: Sequence[PainChange], everything: Sequence[PainChange]) -> Figure:
    """Mean change of pain at each contact, to scale in time."""
    points = spec.contacts
    last = max(point.target_days for point in points)
    series = [
        Series(
            name,
            Shape.LINE,
            tuple(
                _mean_point(point.target_days, one.title, one.change)
                for point, one in zip(points, changes, strict=True)
            ),
        )
        for name, changes in (("Twelve months", twelve), ("Since start", everything))
    ]
    return Figure(
        id="pain-change",
        title=f"Change of {spec.pain_words.split(',')[0]}, contact minus before",
        places=Axis(
            "time after the procedure, to scale",
            0,
            last * 1.08,
            tuple(Tick(point.target_days, point.title) for point in points),
        ),
        values=Axis(
            "points; below 0 is less pain", -10, 2, even_ticks(-10, 2, 2), digits=1, unit="points"
        ),
        series=tuple(series),
        method=f"Clock: due. {T_INTERVAL}",
        reference=Reference(0, "no change"),
        spread=last * 0.012,
    )


def heights(everything: Heights) -> Figure:
    """Mean change of the anterior height by posture, to scale in time."""
    compared = everything.compared
    days = sorted({(one.target_days, one.title) for one in compared})
    postures = list(dict.fromkeys(one.posture_words for one in compared))
    series = [
        Series(
            posture,
            Shape.LINE,
            tuple(
                _mean_point(one.target_days, one.title, one.change)
                for one in compared
                if one.posture_words == posture
            ),
        )
        for posture in postures
    ]
    last = max((day for day, _ in days), default=1)
    return Figure(
        id="height-change",
        title="Change of the anterior height, image minus image before, by posture",
        places=Axis(
            "time after the procedure, to scale",
            0,
            last * 1.08,
            tuple(Tick(day, title) for day, title in days) or (Tick(0, ""),),
        ),
        values=Axis("mm; above 0 is higher", -10, 10, even_ticks(-10, 10, 5), digits=1, unit="mm"),
        series=tuple(series),
        method=f"Clock: done, since start. {T_INTERVAL}",
        reference=Reference(0, "no change"),
        spread=last * 0.012,
    )


def _shares(
    id: str,
    title: str,
    names: Sequence[str],
    parts: Sequence[tuple[str, Sequence[Share]]],
    method: str,
) -> Figure:
    return Figure(
        id=id,
        title=title,
        places=Axis(
            "", -0.6, len(names) - 0.4, tuple(Tick(at, name) for at, name in enumerate(names))
        ),
        values=PERCENT_AXIS,
        series=tuple(
            Series(
                period,
                Shape.POINTS,
                tuple(
                    _share_point(at, name, share)
                    for at, (name, share) in enumerate(zip(names, shares, strict=True))
                ),
            )
            for period, shares in parts
        ),
        method=method,
        lying=True,
        spread=0.26,
    )


def _entry(entries: Sequence[Shared], code: str) -> Share:
    found = [entry.share for entry in entries if entry.code == code]
    return found[0] if found else Share(0, 0, None, None)


def _share_point(at: int, place: str, share: Share) -> Point:
    if share.total < FEWEST_FOR_MEAN or share.lower is None or share.upper is None:
        return Point(at, place, None, n=share.total)
    assert share.fraction is not None
    return Point(at, place, share.fraction * 100, share.lower * 100, share.upper * 100, share.total)


def _mean_point(at: float, place: str, average: Average) -> Point:
    if average.lower is None:
        return Point(at, place, None, n=average.n)
    return Point(at, place, average.mean, average.lower, average.upper, average.n)
