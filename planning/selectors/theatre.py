"""What the theatre pages read."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from django.db.models import Count, Prefetch, Q, QuerySet, Sum

from planning.models import (
    Decision,
    ListEntry,
    PlannedApproach,
    PlannedLevel,
    ProcedurePlan,
    TheatreSession,
)
from planning.theatre_list import TheatreList, build
from register.domain.vocabulary import PROCEDURE_ROUTES
from register.models import Fracture, Measurement, Patient, ReferralDrug, Site
from register.selectors.patients import with_similar_name


def sessions(site: Site, *, since: date) -> QuerySet[TheatreSession]:
    """Sessions from a day on, with the number of cases and the minutes that stand on the list."""
    counted = Q(entries__voided_at=None) & ~Q(entries__state="cancelled")
    return (
        TheatreSession.objects.live()
        .filter(site=site, held_on__gte=since)
        .annotate(
            cases=Count("entries", filter=counted),
            minutes_listed=Sum("entries__minutes", filter=counted),
        )
        .select_related("consultant")
        .order_by("held_on", "starts_at", "pk")
    )


def past_sessions(site: Site, *, before: date) -> QuerySet[TheatreSession]:
    """Sessions before a day, newest first."""
    rows = sessions(site, since=date.min).filter(held_on__lt=before)
    return rows.order_by("-held_on", "-starts_at", "-pk")


def entries_of(session: TheatreSession) -> list[ListEntry]:
    """All that the list needs, in a fixed number of queries."""
    needles = Prefetch("approaches", queryset=PlannedApproach.objects.live())
    levels = (
        PlannedLevel.objects.live()
        .select_related("fracture__referral", "decision")
        .prefetch_related(needles)
    )
    drugs = Prefetch("levels__fracture__referral__drugs", queryset=ReferralDrug.objects.live())
    return list(
        session.entries.filter(voided_at=None)
        .select_related("plan__patient", "plan__technique", "procedure")
        .prefetch_related(Prefetch("plan__levels", queryset=levels), _under_plan(drugs))
        .order_by("place", "pk")
    )


def _under_plan(prefetch: Any) -> Any:
    return Prefetch(f"plan__{prefetch.prefetch_to}", queryset=prefetch.queryset)


def newest_measurements(fractures: Iterable[int]) -> dict[int, Measurement]:
    """The newest live measurement at each fracture's own level, keyed by the fracture."""
    rows = (
        Measurement.objects.live()
        .filter(reading__fracture_id__in=list(fractures), reading__voided_at=None)
        .select_related("reading")
        .order_by("reading__fracture_id", "-measured_on", "-pk")
        .distinct("reading__fracture_id")
    )
    return {row.reading.fracture_id: row for row in rows}


def theatre_list(session: TheatreSession) -> TheatreList:
    """The list of a session as it is shown and printed."""
    entries = entries_of(session)
    fractures = [level.fracture_id for entry in entries for level in entry.plan.levels.all()]
    return build(session, entries, newest_measurements(fractures))


def similar_beside(listed: TheatreList, plans: Iterable[ProcedurePlan]) -> set[int]:
    """Ids of patients of the plans whose name resembles that of another plan or of a case."""
    people = {plan.patient_id: plan.patient for plan in plans}
    people |= {case.entry.plan.patient_id: case.entry.plan.patient for case in listed.cases}
    return with_similar_name(list(people.values()))


def plans_to_list(site: Site) -> QuerySet[ProcedurePlan]:
    """Approved plans that stand on no list and were not carried out, oldest first."""
    taken = Q(entries__state__in=["planned", "done"], entries__voided_at=None)
    return (
        ProcedurePlan.objects.live()
        .filter(patient__site=site, state="approved", patient__date_of_death=None)
        .exclude(taken)
        .select_related("patient", "technique")
        .prefetch_related("levels__fracture")
        .order_by("approved_at", "pk")
    )


def fractures_to_plan(patient: Patient) -> list[tuple[Fracture, Decision]]:
    """Fractures of a patient decided for a procedure and not treated, with that decision."""
    newest = (
        Decision.objects.live()
        .filter(fracture__patient=patient, fracture__voided_at=None)
        .exclude(fracture__state__in=["treated", "closed"])
        .select_related("fracture")
        .order_by("fracture_id", "-decided_on", "-pk")
        .distinct("fracture_id")
    )
    return [(row.fracture, row) for row in newest if row.route in PROCEDURE_ROUTES]
