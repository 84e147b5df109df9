"""How complete follow-up is: what became of every contact that was to take place."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Count, F, Min, Q, QuerySet

from register.models import Review


@dataclass(frozen=True, slots=True)
class Completeness:
    """What became of the contacts of one timepoint, each counted once.

    A contact whose window is still open on the day is `not_yet_due`, whatever
    happened so far: counting the seen early and the unseen late would flatter.
    `dead` to `lost` are contacts not held because follow-up had ended before
    the window closed; `missed` are the others that were not held.
    """

    timepoint: str
    scheduled: int
    not_yet_due: int
    seen_in_window: int
    seen_early: int
    seen_late: int
    dead: int
    withdrawn: int
    moved: int
    unable: int
    lost: int
    missed: int

    @property
    def due(self) -> int:
        """The denominator: closed windows, less those who died before theirs closed."""
        return self.scheduled - self.not_yet_due - self.dead


_ENDS = ("withdrawn", "moved", "unable", "lost")
_APART = ("not_yet_due", "seen_in_window", "seen_early", "seen_late", "dead", *_ENDS)


def completeness(reviews: QuerySet[Review], *, on: date) -> tuple[Completeness, ...]:
    """Count contacts by timepoint as of a day, in one query, in order of their target."""
    seen = Q(held_on__isnull=False, held_on__lte=on)
    early, late = Q(held_on__lt=F("opens_on")), Q(held_on__gt=F("closes_on"))
    closed = Q(closes_on__lt=on)
    gone = closed & ~seen
    died = Q(patient__date_of_death__lte=F("closes_on"))
    ended = Q(patient__follow_up_ended_on__lte=F("closes_on")) & ~died
    ends = {end: Count("pk", filter=gone & ended & Q(patient__follow_up_end=end)) for end in _ENDS}
    rows = (
        reviews.order_by()
        .values("timepoint")
        .annotate(
            scheduled=Count("pk"),
            not_yet_due=Count("pk", filter=~closed),
            seen_early=Count("pk", filter=closed & seen & early),
            seen_in_window=Count("pk", filter=closed & seen & ~early & ~late),
            seen_late=Count("pk", filter=closed & seen & late),
            dead=Count("pk", filter=gone & died),
            after=Min(F("target_on") - F("anchor_on")),
            **ends,
        )
        .order_by("after", "timepoint")
    )
    return tuple(_row(dict(row)) for row in rows)


def _row(counted: dict[str, Any]) -> Completeness:
    counted.pop("after")
    told = sum(counted[name] for name in _APART)
    return Completeness(**counted, missed=counted["scheduled"] - told)
