"""Which fractures wait, in which order: all of it decided by the database.

The order is that of the people who wait: first what somebody called urgent,
then by the day the window closes. The urgent pathway is kept apart: it is not
a place in a queue.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Final

from django.db.models import (
    Case,
    Count,
    DateField,
    F,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)
from django.db.models.functions import Cast, Coalesce, TruncMonth, TruncYear

from planning.services.protocols import InForce
from register.domain.names import similar_names
from register.domain.vocabulary import EPIDURAL_GRADE, codes
from register.models import Fracture, Reading, Referral, Site

WAITING_STATES: Final = ("waiting", "listed")
DEFICIT: Final = ("N2", "N3", "N4")
INFECTION: Final = ("suspected", "active")
# A week before its end the window is said to close soon. Common practice (no source).
SOON: Final = timedelta(days=7)

CLOCKS: Final = (
    ("", "any"),
    ("week", "window closes within a week"),
    ("open", "inside the window"),
    ("closed", "window closed"),
    ("none", "onset not recorded"),
)
STATES: Final = (
    ("", "all"),
    ("undecided", "not decided yet"),
    ("decided", "decided for a procedure"),
)
URGENCIES: Final = (
    ("", "any"),
    ("urgent", "urgent: within days"),
    ("soon", "soon: inside the window"),
    ("routine", "no clock"),
    ("unset", "not set"),
)


Rows = QuerySet[Any]  # fractures with the annotations of waiting_fractures


@dataclass(frozen=True, slots=True)
class Counts:
    """The line above the list."""

    waiting: int
    closing: int
    closed: int
    urgent: int


def waiting_fractures(site: Site, *, on: date, current: InForce) -> Rows:
    """Return every waiting fracture of living patients, in order, urgent ones marked.

    Annotated: `closes_on` (earliest day the window can close, None without an
    onset), `urgency_now`, `on_urgent_pathway`. A fracture without an onset is
    placed by its referral: it began no later than that.
    """
    window = timedelta(days=current.window_days)
    return (
        Fracture.objects.live()
        .filter(
            patient__site=site,
            patient__voided_at=None,
            patient__date_of_death=None,
            state__in=WAITING_STATES,
        )
        .annotate(onset_earliest=_onset_earliest(), referral_since=_referral_since(on))
        .annotate(
            closes_on=_plus(F("onset_earliest"), window),
            neurology_now=_referral_value("neurology", on),
            infection_now=_referral_value("infection_state", on),
            urgency_now=Coalesce(_referral_value("urgency", on), Value("")),
            epidural_now=_epidural(on),
        )
        .annotate(
            on_urgent_pathway=_urgent(current),
            urgency_rank=_urgency_rank(),
            sorts_on=Coalesce("closes_on", _plus(F("referral_since"), window)),
        )
        .select_related("patient", "referral")
        .order_by("urgency_rank", F("sorts_on").asc(nulls_last=True), "pk")
    )


def elective(rows: Rows) -> Rows:
    """Return the list: everything that is not on the urgent pathway."""
    return rows.filter(on_urgent_pathway=False)


def urgent(rows: Rows) -> Rows:
    """Return what stands in the box above the list."""
    return rows.filter(on_urgent_pathway=True)


def filtered(rows: Rows, *, on: date, clock: str = "", state: str = "", urgency: str = "") -> Rows:
    """Narrow the list by codes of CLOCKS, STATES and URGENCIES; blank leaves it as it is."""
    chosen = {
        "week": Q(closes_on__range=(on, on + SOON)),
        "open": Q(closes_on__gte=on),
        "closed": Q(closes_on__lt=on),
        "none": Q(closes_on=None),
    }
    if clock in chosen:
        rows = rows.filter(chosen[clock])
    if state in ("undecided", "decided"):
        rows = rows.filter(state="waiting" if state == "undecided" else "listed")
    if urgency:
        rows = rows.filter(urgency_now="" if urgency == "unset" else urgency)
    return rows


def counts(rows: Rows, *, on: date) -> Counts:
    """Count the whole list, whatever is filtered. One query."""
    listed = Q(on_urgent_pathway=False)
    found = rows.order_by().aggregate(
        waiting=Count("pk", filter=listed),
        closing=Count("pk", filter=listed & Q(closes_on__range=(on, on + SOON))),
        closed=Count("pk", filter=listed & Q(closes_on__lt=on)),
        urgent=Count("pk", filter=Q(on_urgent_pathway=True)),
    )
    return Counts(**found)


def with_similar_names(rows: Rows) -> set[int]:
    """Return the patients on the list whose name resembles another's. One query."""
    people = rows.order_by().values_list(
        "patient_id", "patient__family_name", "patient__given_name"
    )
    return similar_names(set(people))


def waiting_although_dead(site: Site) -> Rows:
    """Return fractures that are still open although the patient died: to be closed."""
    return (
        Fracture.objects.live()
        .filter(
            patient__site=site,
            patient__voided_at=None,
            patient__date_of_death__isnull=False,
            state__in=WAITING_STATES,
        )
        .select_related("patient")
        .order_by("patient__family_name", "patient__given_name", "pk")
    )


# --- the pieces -------------------------------------------------------------


def _onset_earliest() -> Any:
    """The earliest day of an onset, as register.domain.clock.onset_range has it."""
    week_before = Cast(F("onset_on") - Value(timedelta(days=7)), DateField())
    return Case(
        When(onset_precision="week", then=week_before),
        When(onset_precision="month", then=TruncMonth("onset_on")),
        When(onset_precision="year", then=TruncYear("onset_on")),
        default=F("onset_on"),
        output_field=DateField(),
    )


def _plus(day: Any, span: timedelta) -> Any:
    return Cast(day + Value(span), DateField())


def _live_referrals(on: date) -> QuerySet[Referral]:
    return (
        Referral.objects.live()
        .filter(patient=OuterRef("patient"), referred_on__lte=on)
        .order_by("-referred_on", "-pk")
    )


def _referral_since(on: date) -> Any:
    """The day of the fracture's own referral; without one, of the patient's newest."""
    own = Case(When(referral__voided_at=None, then=F("referral__referred_on")))
    return Coalesce(own, Subquery(_live_referrals(on).values("referred_on")[:1]))


def _referral_value(name: str, on: date) -> Subquery:
    """The newest recorded value of a column among the referrals that speak about the fracture."""
    rows = _live_referrals(on).filter(referred_on__gte=OuterRef("referral_since"))
    return Subquery(rows.exclude(**{name: ""}).values(name)[:1])


def _epidural(on: date) -> Subquery:
    """The newest epidural grade read at this fracture."""
    since = Coalesce(OuterRef("onset_earliest"), Value(date.min))
    unlinked = Q(fracture=None, study__performed_on__gte=since)
    rows = (
        Reading.objects.live()
        .filter(
            Q(fracture=OuterRef("pk")) | unlinked,
            level=OuterRef("level"),
            study__patient=OuterRef("patient"),
            study__voided_at=None,
            study__performed_on__lte=on,
            read_on__lte=on,
        )
        .exclude(epidural_grade="")
        .order_by("-study__performed_on", "-read_on", "-pk")
    )
    return Subquery(rows.values("epidural_grade")[:1])


def severe_grades(current: InForce) -> list[str]:
    """Return the epidural grades from which the protocol asks a spinal surgeon first."""
    grades = codes(EPIDURAL_GRADE)
    return grades[grades.index(str(current.values.value("wall.epidural_grade_from"))) :]


def _urgent(current: InForce) -> Any:
    severe = severe_grades(current)
    found = (
        Q(neurology_now__in=DEFICIT) | Q(infection_now__in=INFECTION) | Q(epidural_now__in=severe)
    )
    return Case(When(found, then=Value(True)), default=Value(False))


def _urgency_rank() -> Any:
    """Within days first, then the window, then what has no clock; not set counts as the window."""
    return Case(
        When(urgency_now="urgent", then=0),
        When(urgency_now="routine", then=2),
        default=1,
        output_field=IntegerField(),
    )
