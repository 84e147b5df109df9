"""Writing the rows of a confirmed list of earlier procedures.

Each brings what a procedure needs to count: the patient, the referral if its day is known,
a treated fracture for each level, the procedure, and the contacts that the protocol asks for
after it, most of them with windows that closed long ago. Whatever the list does not say stays
not recorded.
"""

from collections.abc import Sequence
from datetime import date
from typing import Final, TypeVar

from register.domain.protocol import ProtocolValues
from register.domain.timepoints import schedule
from register.imports.procedures.judging import cement_values, fracture_meant, leak_values, who
from register.imports.procedures.known import technique_meant
from register.imports.procedures.rows import LevelTold, ProcedureRow
from register.imports.procedures.unlikely import session_reasons
from register.imports.verdicts import Kind, Verdict
from register.models import (
    CementUse,
    Complication,
    Fracture,
    Leak,
    Patient,
    Procedure,
    Referral,
    Review,
    Site,
    TreatedLevel,
    User,
)
from register.models.base import Record
from register.selectors.import_procedures import known_patients, techniques_of
from register.selectors.protocols import values_in_force
from register.services.import_writing import Say, Writer

_KINDS: Final = (
    Patient, Referral, Fracture, Procedure, TreatedLevel, CementUse, Leak, Complication, Review,
)  # fmt: skip
Made = TypeVar("Made", bound=Record)


def procedures_write(
    verdicts: Sequence[Verdict], *, site: Site, user: User, say: Say | None = None
) -> None:
    """Write every new procedure with all its parts, and what rows change. Call inside `acting`.

    Raises what Writer.write raises.
    """
    writer = Writer(*_KINDS, say=say)
    bringing = _Bringing(writer, site, verdicts)
    for verdict in verdicts:
        if verdict.kind is not Kind.CHANGED:
            bringing.bring(verdict)
        writer.take(verdict)
    writer.write()


class _Bringing:
    """Makes the records of new procedures.

    The rows of one patient share the patient, the referrals and the fractures, among
    themselves and with what the register holds.
    """

    def __init__(self, writer: Writer, site: Site, verdicts: Sequence[Verdict]) -> None:
        self._writer, self._site = writer, site
        rows: list[ProcedureRow] = [verdict.row for verdict in verdicts]
        self._techniques = techniques_of(site.pk)
        known = known_patients(site.pk, rows).by_hospital.values()
        self._recorded = {person.pk: person for person in known}
        self._patients = Patient.objects.in_bulk([v.patient_id for v in verdicts if v.patient_id])
        self._died = {who(row): row.died_on for row in reversed(rows) if row.died_on}
        self._brought: dict[str, Patient] = {}
        self._referrals: dict[tuple[str, date], Referral] = {}
        self._fractures: dict[tuple[str, str, date], Fracture] = {}
        self._protocols: dict[date, ProtocolValues] = {}

    def bring(self, verdict: Verdict) -> None:
        """Make all records of a row, each after those on which it hangs."""
        row: ProcedureRow = verdict.row
        technique, _ = technique_meant(row.technique, self._techniques)
        assert technique is not None  # or it would not have been judged new
        procedure = self._add(
            row,
            Procedure(
                patient=self._patient(row, verdict.patient_id),
                technique_id=technique.pk,
                performed_on=row.performed_on,
                state="earlier",
                unusual=session_reasons(row),
                **row.procedure,
            ),
        )
        for level, told in row.levels.items():
            self._treat(row, level, told, procedure)
        for kind, day, grade in row.complications:
            trouble = Complication(procedure=procedure, kind=kind, occurred_on=day, grade=grade)
            self._add(row, trouble)
        self._schedule(row, procedure)

    def _add(self, row: ProcedureRow, record: Made) -> Made:
        self._writer.add(row.number, record)
        return record

    def _patient(self, row: ProcedureRow, recorded: int | None) -> Patient:
        patient = self._patients.get(recorded or 0) or self._brought.get(who(row))
        if patient is None:
            died_on = self._died.get(who(row))
            patient = self._add(row, Patient(site=self._site, date_of_death=died_on, **row.patient))
            self._brought[who(row)] = patient
        return patient

    def _treat(self, row: ProcedureRow, level: str, told: LevelTold, procedure: Procedure) -> None:
        """Make a treated level with its fracture, cement and leaks."""
        given = dict(told.given)
        if told.leaks is not None:
            given["leak_check"] = "leak" if told.leaks else "no_leak"
            given["leak_checked_on"] = row.seen_on
        treated = TreatedLevel(procedure=procedure, **given)
        recorded = self._recorded_fracture(row, level, procedure.patient)
        if recorded is None:
            treated.fracture = self._fracture(row, level, procedure.patient)
        else:
            treated.fracture_id = recorded
        self._add(row, treated)
        if cement := cement_values(row, told):
            self._add(row, CementUse(level=treated, **cement))
        for values in leak_values(row, told):
            self._add(row, Leak(level=treated, **values))

    def _recorded_fracture(self, row: ProcedureRow, level: str, patient: Patient) -> int | None:
        person = self._recorded.get(patient.pk or 0)
        there, _ = fracture_meant(row, level, person.fractures if person else ())
        return there.pk if there else None

    def _fracture(self, row: ProcedureRow, level: str, patient: Patient) -> Fracture:
        """Return the fracture that a row brings, or that an earlier row has brought."""
        key = who(row), level, row.onset_on or row.performed_on
        if key not in self._fractures:
            fracture = Fracture(patient=patient, level=level, state="treated", **row.fracture)
            self._refer(row, fracture)
            self._fractures[key] = self._add(row, fracture)
        return self._fractures[key]

    def _refer(self, row: ProcedureRow, fracture: Fracture) -> None:
        """Hang a fracture on the referral of the day that a row gives; there may be none."""
        if row.referred_on is None:
            return
        person = self._recorded.get(fracture.patient.pk or 0)
        recorded = person.referrals.get(row.referred_on) if person else None
        if recorded is not None:
            fracture.referral_id = recorded
            return
        key = who(row), row.referred_on
        if key not in self._referrals:
            referral = Referral(
                patient=fracture.patient, referred_on=row.referred_on, state="closed"
            )
            self._referrals[key] = self._add(row, referral)
        fracture.referral = self._referrals[key]

    def _schedule(self, row: ProcedureRow, procedure: Procedure) -> None:
        """Make the contacts that the protocol of that day asks for."""
        day = row.performed_on
        if day not in self._protocols:
            self._protocols[day] = values_in_force(site=self._site, on=day)
        for contact in schedule(day, self._protocols[day].timepoints):
            review = Review(
                patient=procedure.patient,
                procedure=procedure,
                timepoint=contact.timepoint.code,
                anchor_on=day,
                opens_on=contact.opens_on,
                target_on=contact.target_on,
                closes_on=contact.closes_on,
            )
            self._add(row, review)
