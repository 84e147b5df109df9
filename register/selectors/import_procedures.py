"""What the register holds of the people in a list of procedures, and the verdicts that follow."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from django.db.models import Max, Prefetch, Q, QuerySet

from register.imports.people import KnownPeople
from register.imports.procedures.columns import COLUMNS
from register.imports.procedures.judging import judge
from register.imports.procedures.known import (
    KnownLevel,
    KnownPatient,
    KnownProcedure,
    KnownTechnique,
)
from register.imports.procedures.rows import ProcedureRow
from register.imports.reading import ReadFile
from register.imports.referrals.known import KnownFracture
from register.imports.verdicts import Verdict
from register.imports.weighing import Recorded
from register.models import (
    CementUse,
    Complication,
    Fracture,
    Leak,
    Patient,
    Procedure,
    Referral,
    Technique,
    TreatedLevel,
)
from register.selectors.import_people import (
    ByHand,
    people_as_recorded,
    people_meant,
    row_as_recorded,
)
from register.selectors.import_provenance import fields_by_hand

_OF_ROW: Final = ("technique", "why_unlikely")  # columns that are no fields
_OF_PROCEDURE: Final = (
    *(c.field for c in COLUMNS if c.part == "procedure" and c.field not in _OF_ROW),
    "absent",
    "unusual",
)
_OF_LEVEL: Final = ("side", "approach", "biopsy_taken", "leak_check", "leak_checked_on", "absent")
_OF_FRACTURE: Final = ("cause", "onset_on", "onset_precision", "absent")
_OF_LEAK: Final = ("place", "route", "seen_on", "consequence", "absent")
_OF_TROUBLE: Final = ("kind", "occurred_on", "grade", "absent")
_OF_CEMENT: Final = ("volume_ml", "absent", "unusual")


def judge_procedures(site_id: int, file: ReadFile) -> tuple[Verdict, ...]:
    """Return the verdict on each row of a list of procedures as the register stands now."""
    return judge(file, known_patients(site_id, file.rows), techniques_of(site_id))


def techniques_of(site_id: int) -> tuple[KnownTechnique, ...]:
    """Return the techniques of a site, those withdrawn since among them."""
    rows = Technique.objects.live().filter(site=site_id).order_by("name")
    return tuple(KnownTechnique(*row) for row in rows.values_list("pk", "name", "route"))


def known_patients(site_id: int, rows: Sequence[ProcedureRow]) -> KnownPeople[KnownPatient]:
    """Return the patients whom rows may mean, with all that a row is compared with.

    The same number of queries however many rows there are.
    """
    meant = people_meant(site_id, (row.patient for row in rows))
    return KnownPeople.of(_all_known(list(_with_records(meant))))


def _with_records(ids: Iterable[int]) -> QuerySet[Patient]:
    levels = TreatedLevel.objects.live().select_related("fracture__referral").order_by("pk")
    levels = levels.prefetch_related(
        Prefetch("cement", CementUse.objects.live(), to_attr="poured"),
        Prefetch("leaks", Leak.objects.live(), to_attr="seen"),
    )
    done = Procedure.objects.live().select_related("technique", "operator")
    done = done.prefetch_related(
        Prefetch("levels", levels, to_attr="treated"),
        Prefetch("complications", Complication.objects.live(), to_attr="trouble"),
    )
    held = Max("reviews__held_on", filter=Q(reviews__voided_at=None))
    patients = Patient.objects.filter(pk__in=list(ids)).annotate(seen_on=held)
    return patients.prefetch_related(
        Prefetch("procedures", done, to_attr="done"),
        Prefetch("fractures", Fracture.objects.live().select_related("referral"), to_attr="broken"),
        Prefetch("referrals", Referral.objects.live(), to_attr="written"),
    )


def _all_known(patients: Sequence[Any]) -> list[KnownPatient]:
    """Return the patients as plain values, with what a person put there."""
    done = [procedure for patient in patients for procedure in patient.done]
    levels = [level for procedure in done for level in procedure.treated]
    rows: Mapping[Any, list[Any]] = {
        Patient: list(patients),
        Procedure: done,
        TreatedLevel: levels,
        CementUse: [entry for level in levels for entry in level.poured],
        Leak: [leak for level in levels for leak in level.seen],
        Complication: [one for procedure in done for one in procedure.trouble],
        Fracture: [fracture for patient in patients for fracture in patient.broken],
    }
    by_hand = {kind: fields_by_hand(kind, [row.pk for row in of]) for kind, of in rows.items()}
    people = people_as_recorded(patients, by_hand=by_hand)
    return [_known(patient, people[patient.pk], by_hand) for patient in patients]


def _known(patient: Any, person: Mapping[str, Any], by_hand: ByHand) -> KnownPatient:
    return KnownPatient(
        **person,
        procedures=tuple(_known_procedure(row, by_hand) for row in patient.done),
        fractures=tuple(_known_fracture(row, by_hand) for row in patient.broken),
        referrals={row.referred_on: row.pk for row in patient.written},
        seen_on=patient.seen_on,
    )


def _known_procedure(row: Any, by_hand: ByHand) -> KnownProcedure:
    technique = row.technique
    return KnownProcedure(
        **row_as_recorded(row, _OF_PROCEDURE, by_hand),
        performed_on=row.performed_on,
        technique=KnownTechnique(technique.pk, technique.name, technique.route),
        state=row.state,
        operator=str(row.operator or ""),
        levels={level.fracture.level: _known_level(level, by_hand) for level in row.treated},
        complications=tuple(
            Recorded(**row_as_recorded(one, _OF_TROUBLE, by_hand)) for one in row.trouble
        ),
    )


def _known_level(row: Any, by_hand: ByHand) -> KnownLevel:
    return KnownLevel(
        **row_as_recorded(row, _OF_LEVEL, by_hand),
        fracture=_known_fracture(row.fracture, by_hand),
        cement=tuple(Recorded(**row_as_recorded(use, _OF_CEMENT, by_hand)) for use in row.poured),
        leaks=tuple(Recorded(**row_as_recorded(leak, _OF_LEAK, by_hand)) for leak in row.seen),
    )


def _known_fracture(row: Fracture, by_hand: ByHand) -> KnownFracture:
    return KnownFracture(
        **row_as_recorded(row, _OF_FRACTURE, by_hand),
        level=row.level,
        state=row.state,
        onset_on=row.onset_on,
        referred_on=row.referral.referred_on if row.referral else None,
    )
