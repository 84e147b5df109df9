"""A small department for tests of the audit; every value is invented and chosen by hand."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.utils import timezone

from register.models import (
    Complication,
    Leak,
    Measurement,
    Patient,
    Procedure,
    Review,
    Site,
    Study,
    Technique,
    User,
)
from tests.factories import (
    make_fracture,
    make_measurement,
    make_patient,
    make_procedure,
    make_reading,
    make_referral,
    make_review,
    make_score,
    make_site,
    make_technique,
    make_user,
)

FIRST, LAST, CUT_OFF = date(2026, 10, 1), date(2026, 12, 31), date(2027, 2, 1)
DONE = date(2026, 11, 10)
AFTER = CUT_OFF + timedelta(days=1)


@dataclass
class Department:
    """One site with who and what a procedure needs; call its methods inside `acting`."""

    site: Site
    operator: User
    technique: Technique

    def patient(self, **fields: Any) -> Patient:
        return make_patient(self.site, **fields)

    def procedure(self, patient: Patient | None = None, **fields: Any) -> Procedure:
        """A procedure of one level, on DONE, 30 days after the onset unless told otherwise."""
        values = {"performed_on": DONE} | fields
        fracture = {
            "level": values.pop("level", "L1"),
            "onset_on": values.pop("onset_on", DONE - timedelta(days=30)),
            "onset_precision": values.pop("onset_precision", "day"),
        }
        referral = make_referral(patient or self.patient())
        return make_procedure(
            make_fracture(referral, **fracture), self.technique, self.operator, **values
        )

    def contact(self, procedure: Procedure, timepoint: str, target: int, **fields: Any) -> Review:
        """A contact with a window of a week on both sides; `held` counts from the procedure."""
        day = procedure.performed_on + timedelta(days=target)
        held = fields.pop("held", None)
        if held is not None:
            fields |= {
                "held_on": procedure.performed_on + timedelta(days=held),
                "recorded_by": self.operator,
            }
        days = {"target_on": day, "closes_on": day + timedelta(days=7 if target > 0 else 0)}
        days["opens_on"] = day - timedelta(days=7)
        return make_review(procedure, timepoint=timepoint, **days | fields)

    def scored(self, procedure: Procedure, timepoint: str, target: int, value: int | None) -> None:
        """A contact held on its day, with pain on movement."""
        review = self.contact(procedure, timepoint, target, held=target)
        make_score(review, "pain_moving", value)

    def heights(self, procedure: Procedure, taken_on: date, **fields: Any) -> Measurement:
        """Heights of the treated level on a study of its own."""
        study = {"modality": "film", "posture": "standing"}
        study |= {name: fields.pop(name) for name in list(fields) if name in ("modality",)}
        study["posture"] = fields.pop("study_posture", study["posture"])
        made = Study.objects.create(patient=procedure.patient, performed_on=taken_on, **study)
        fracture = procedure.levels.get().fracture
        reading = make_reading(fracture, self.operator, study=made, read_on=taken_on)
        return make_measurement(reading, **fields)

    def leak(self, procedure: Procedure, **fields: Any) -> Leak:
        """A leak of the only level of a procedure, seen on CT."""
        level = procedure.levels.get()
        level.leak_check, level.leak_checked_on = "leak", "ct"
        level.save()
        values = {"route": "disc", "place": "upper_disc", "seen_on": "ct", "consequence": "none"}
        return Leak.objects.create(level=level, **values | fields)

    def complication(self, procedure: Procedure, **fields: Any) -> Complication:
        """A complication on the day after the procedure."""
        values = {"kind": "infection", "grade": "II", "occurred_on": DONE + timedelta(days=1)}
        return Complication.objects.create(procedure=procedure, **values | fields)


def make_department() -> Department:
    """Return a new site; call it inside `acting`."""
    site = make_site()
    return Department(site, make_user(site, "lead"), make_technique(site))


def void(row: Any) -> None:
    """Take a row out, as a mistake."""
    row.voided_at, row.void_reason = timezone.now(), "Entered by mistake"
    row.save()
