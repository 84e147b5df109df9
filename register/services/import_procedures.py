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
from register.imports.procedures.changing import cement_values, leak_values
from register.imports.procedures.judging import who
from register.imports.procedures.known import Meant
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
    themselves and with what the register holds: with which, the verdicts say.
    """

    def __init__(self, writer: Writer, site: Site, verdicts: Sequence[Verdict]) -> None:
        self._writer, self._site = writer, site
        rows: list[ProcedureRow] = [verdict.row for verdict in verdicts]
        self._patients = Patient.objects.in_bulk([v.patient_id for v in verdicts if v.patient_id])
        self._died = {who(row): row.died_on for row in reversed(rows) if row.died_on}
        self._brought: dict[str, Patient] = {}
        self._referrals: dict[tuple[str, date], Referral] = {}
        self._fractures: dict[tuple[int, str], Fracture] = {}  # by row and level
        self._protocols: dict[date, ProtocolValues] = {}

    def bring(self, verdict: Verdict) -> None:
        """Make all records of a row, each after those on which it hangs."""
        row: ProcedureRow = verdict.row
        meant: Meant = verdict.meant
        procedure = self._add(
            row,
            Procedure(
                patient=self._patient(row, verdict.patient_id),
                technique_id=meant.technique_id,
                performed_on=row.performed_on,
                state="earlier",
                unusual=session_reasons(row),
                **row.procedure,
            ),
        )
        for level, told in row.levels.items():
            self._treat(row, meant, level, told, procedure)
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

    def _treat(
        self, row: ProcedureRow, meant: Meant, level: str, told: LevelTold, procedure: Procedure
    ) -> None:
        """Make a treated level with its fracture, cement and leaks."""
        given = dict(told.given)
        if told.leaks is not None:
            given["leak_check"] = "leak" if told.leaks else "no_leak"
            given["leak_checked_on"] = row.seen_on
        treated = TreatedLevel(procedure=procedure, **given)
        if level in meant.fractures:
            treated.fracture_id = meant.fractures[level]
        else:
            treated.fracture = self._fracture(row, meant, level, procedure.patient)
        self._add(row, treated)
        if cement := cement_values(row, told):
            self._add(row, CementUse(level=treated, **cement))
        for values in leak_values(row, told):
            self._add(row, Leak(level=treated, **values))

    def _fracture(self, row: ProcedureRow, meant: Meant, level: str, patient: Patient) -> Fracture:
        """Return the fracture that a row brings, or that an earlier row has brought."""
        if level in meant.shared:
            return self._fractures[meant.shared[level], level]
        fracture = Fracture(patient=patient, level=level, state="treated", **row.fracture)
        self._refer(row, meant, fracture)
        self._fractures[row.number, level] = self._add(row, fracture)
        return fracture

    def _refer(self, row: ProcedureRow, meant: Meant, fracture: Fracture) -> None:
        """Hang a fracture on the referral of the day that a row gives; there may be none."""
        if row.referred_on is None:
            return
        if meant.referral_id is not None:
            fracture.referral_id = meant.referral_id
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
