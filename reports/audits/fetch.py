"""From the register to the input rows of an audit: the only module here that reads the database.

One query for each kind, whatever the size of the register. Everything up to the
data cut-off is read; `build` sorts it into periods.
"""

from collections.abc import Iterable, Mapping
from datetime import date

from django.db.models import QuerySet

from register.domain.days import age_years
from register.models import (
    Complication,
    Leak,
    Measurement,
    Patient,
    Procedure,
    Review,
    Score,
    Site,
    TheatreLogEntry,
    TreatedLevel,
)
from register.selectors.circumstances import posture_of
from reports.audits.rows import (
    ComplicationRow,
    ContactRow,
    HeightRow,
    LeakRow,
    LevelRow,
    LogLineRow,
    ProcedureRow,
    Rows,
    ScoreRow,
)
from reports.audits.spec import Spec


def fetch(site: Site, spec: Spec) -> Rows:
    """Read the rows of one site up to the cut-off day, under keys of this set only."""
    procedures = _procedures(site, spec.cut_off)
    own = {row.pk: f"P{place:05d}" for place, row in enumerate(procedures, start=1)}
    levels = _levels(own)
    treated = {row.pk: f"L{place:05d}" for place, row in enumerate(levels, start=1)}
    reviews = _reviews(own)
    contacts = {row.pk: f"C{place:06d}" for place, row in enumerate(reviews, start=1)}
    return Rows(
        procedures=_procedure_rows(procedures, own, spec.cut_off),
        levels=tuple(_level_row(row, treated, own) for row in levels),
        leaks=_leak_rows(treated),
        complications=_complication_rows(own, spec.cut_off),
        contacts=tuple(_contact_row(row, contacts, own, spec.cut_off) for row in reviews),
        scores=_score_rows(contacts, spec.cut_off),
        heights=_height_rows(levels, treated, spec.cut_off),
        log_lines=_log_line_rows(site, spec.cut_off),
    )


def _procedures(site: Site, cut_off: date) -> list[Procedure]:
    rows = Procedure.objects.live().filter(
        patient__site=site, patient__voided_at=None, performed_on__lte=cut_off
    )
    return list(rows.select_related("patient", "technique").order_by("performed_on", "pk"))


def _levels(own: Mapping[int, str]) -> list[TreatedLevel]:
    rows = TreatedLevel.objects.live().filter(procedure_id__in=own)
    return list(rows.select_related("fracture", "procedure").order_by("procedure_id", "pk"))


def _reviews(own: Mapping[int, str]) -> QuerySet[Review]:
    rows = Review.objects.live().filter(procedure_id__in=own).exclude(timepoint="unscheduled")
    return rows.select_related("procedure").order_by("procedure_id", "target_on", "pk")


def _procedure_rows(
    procedures: Iterable[Procedure], own: Mapping[int, str], cut_off: date
) -> tuple[ProcedureRow, ...]:
    people: dict[int, str] = {}
    rows = []
    for row in procedures:
        patient = people.setdefault(row.patient_id, f"N{len(people) + 1:05d}")
        end, ended_on = _end_of(row.patient, cut_off)
        rows.append(
            ProcedureRow(
                key=own[row.pk],
                patient=patient,
                performed_on=row.performed_on,
                technique=row.technique.name,
                route=row.technique.route,
                age_years=age_years(row.patient.date_of_birth, row.performed_on),
                sex=row.patient.sex,
                signed=row.state == "signed",
                complication_check=row.complication_check,
                end=end,
                ended_on=ended_on,
                earlier=row.state == "earlier",
            )
        )
    return tuple(rows)


def _end_of(patient: Patient, cut_off: date) -> tuple[str, date | None]:
    """How follow-up ended by the cut-off; a death counts whatever else was written."""
    if patient.date_of_death is not None and patient.date_of_death <= cut_off:
        return "dead", patient.date_of_death
    if patient.follow_up_ended_on is not None and patient.follow_up_ended_on <= cut_off:
        return patient.follow_up_end, patient.follow_up_ended_on
    return "", None


def _level_row(row: TreatedLevel, treated: Mapping[int, str], own: Mapping[int, str]) -> LevelRow:
    """The age is given with the precision of its onset; `build` leaves vague ones out."""
    fracture = row.fracture
    onset = fracture.onset_on
    age = None if onset is None else (row.procedure.performed_on - onset).days
    return LevelRow(
        key=treated[row.pk],
        procedure=own[row.procedure_id],
        level=fracture.level,
        cause=fracture.cause,
        fracture_age_days=age,
        onset_precision=fracture.onset_precision,
        leak_check=row.leak_check,
        leak_checked_on=row.leak_checked_on,
    )


def _leak_rows(treated: Mapping[int, str]) -> tuple[LeakRow, ...]:
    rows = Leak.objects.live().filter(level_id__in=treated).order_by("level_id", "pk")
    return tuple(
        LeakRow(
            key=f"K{place:05d}",
            level=treated[row.level_id],
            route=row.route,
            place=row.place,
            seen_on=row.seen_on,
            consequence=row.consequence,
        )
        for place, row in enumerate(rows, start=1)
    )


def _complication_rows(own: Mapping[int, str], cut_off: date) -> tuple[ComplicationRow, ...]:
    rows = Complication.objects.live().filter(procedure_id__in=own, occurred_on__lte=cut_off)
    return tuple(
        ComplicationRow(
            key=f"X{place:05d}",
            procedure=own[row.procedure_id],
            kind=row.kind,
            grade=row.grade,
            occurred_on=row.occurred_on,
        )
        for place, row in enumerate(rows.order_by("procedure_id", "pk"), start=1)
    )


def _contact_row(
    row: Review, contacts: Mapping[int, str], own: Mapping[int, str], cut_off: date
) -> ContactRow:
    held = row.held_on if row.held_on is not None and row.held_on <= cut_off else None
    return ContactRow(
        key=contacts[row.pk],
        procedure=own[row.procedure_id or 0],
        timepoint=row.timepoint,
        opens_on=row.opens_on,
        target_on=row.target_on,
        closes_on=row.closes_on,
        held_on=held,
        entered_late=row.closed_before_entry,
    )


def _score_rows(contacts: Mapping[int, str], cut_off: date) -> tuple[ScoreRow, ...]:
    rows = Score.objects.live().filter(review_id__in=contacts, review__held_on__lte=cut_off)
    return tuple(
        ScoreRow(
            key=f"S{place:06d}",
            contact=contacts[row.review_id],
            instrument=row.instrument,
            value=row.value,
            reason=row.absent.get("value", ""),
        )
        for place, row in enumerate(rows.order_by("review_id", "instrument", "pk"), start=1)
    )


def _height_rows(
    levels: Iterable[TreatedLevel], treated: Mapping[int, str], cut_off: date
) -> tuple[HeightRow, ...]:
    """Heights at a treated fracture's own level; a fracture treated twice shows them at both.

    Blinded repeats are left out: they tell how good the reading is.
    """
    keys: dict[int, list[str]] = {}
    for level in levels:
        keys.setdefault(level.fracture_id, []).append(treated[level.pk])
    rows = (
        Measurement.objects.live()
        .filter(reading__fracture_id__in=keys, reading__voided_at=None, marking__repeats=None)
        .filter(reading__study__voided_at=None, reading__study__performed_on__lte=cut_off)
        .select_related("reading__study", "reading__fracture")
        .order_by("reading__study__performed_on", "pk")
    )
    found = [
        (row, key)
        for row in rows
        if row.reading.fracture is not None and row.reading.level == row.reading.fracture.level
        for key in keys[row.reading.fracture.pk]
    ]
    return tuple(
        _height_row(f"H{place:05d}", key, row) for place, (row, key) in enumerate(found, start=1)
    )


def _height_row(key: str, level: str, row: Measurement) -> HeightRow:
    return HeightRow(
        key=key,
        level=level,
        taken_on=row.reading.study.performed_on,
        modality=row.reading.study.modality,
        posture=posture_of(row),
        calibration=row.calibration,
        anterior_mm=row.anterior_height_mm,
        middle_mm=row.middle_height_mm,
        posterior_mm=row.posterior_height_mm,
    )


def _log_line_rows(site: Site, cut_off: date) -> tuple[LogLineRow, ...]:
    """The theatre log: what became of each line, and which lines are one operation."""
    own: dict[tuple[object, ...], str] = {}
    rows = TheatreLogEntry.objects.live().filter(site=site, performed_on__lte=cut_off)
    rows = rows.select_related("procedure__patient")
    return tuple(
        LogLineRow(
            key=f"T{place:06d}",
            performed_on=row.performed_on,
            became=_became(row),
            operation=own.setdefault(row.operation, f"O{len(own) + 1:06d}"),
        )
        for place, row in enumerate(rows.order_by("performed_on", "pk"), start=1)
    )


def _became(row: TheatreLogEntry) -> str:
    if row.found_as is not None:
        return "found"
    return "not_ours" if row.not_ours_because else "open"
