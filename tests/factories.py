"""Small factories: every field explicit, no random text, NHS Numbers from the test range.

Call them inside `acting(...)`, or use the `as_system` fixture, because the
database refuses a row without an actor.
"""

from collections.abc import Iterator
from datetime import date, time, timedelta
from decimal import Decimal
from itertools import count
from typing import Any

from planning.models import Decision, ListEntry, PlannedLevel, ProcedurePlan, TheatreSession
from register.models import (
    Fracture,
    Measurement,
    Patient,
    Procedure,
    Protocol,
    Reading,
    Referral,
    Review,
    Score,
    Site,
    Study,
    Technique,
    TreatedLevel,
    User,
)

TODAY = date(2027, 3, 7)
_number = count(1)


def _test_numbers() -> Iterator[str]:
    """Yield the numbers of the reserved range 999 that have a check digit, in order."""
    for middle in range(1_000_000):
        digits = f"999{middle:06d}"
        weighted = zip(digits, range(10, 1, -1), strict=True)
        total = sum(int(digit) * weight for digit, weight in weighted)
        check = -total % 11
        if check != 10:
            yield f"{digits}{check}"


_left, _made = _test_numbers(), [""]


def nhs_number(serial: int) -> str:
    """The serial-th number of the reserved range 999; found once, a run asks for thousands."""
    while len(_made) <= serial:
        _made.append(next(_left))
    return _made[serial]


def make_site(**fields: Any) -> Site:
    n = next(_number)
    return Site.objects.create(**{"name": f"Harrowmere {n}", "code": f"site-{n}"} | fields)


def make_user(site: Site, role: str, **fields: Any) -> User:
    n = next(_number)
    defaults = {"username": f"{role}-{n}", "first_name": "Sam", "last_name": f"Person{n}"}
    user = User(**defaults | {"site": site, "role": role} | fields)
    user.set_password("a long passphrase 1")
    user.save()
    return user


def make_patient(site: Site, **fields: Any) -> Patient:
    n = next(_number)
    defaults = {
        "hospital_number": f"H{n:06d}",
        "nhs_number": nhs_number(n),
        "family_name": f"Family{n}",
        "given_name": "Maud",
        "date_of_birth": date(1942, 5, 14),
        "sex": "female",
    }
    return Patient.objects.create(site=site, **defaults | fields)


def make_referral(patient: Patient, **fields: Any) -> Referral:
    defaults = {
        "source": "emergency",
        "referred_on": TODAY - timedelta(days=10),
        "onset_on": TODAY - timedelta(days=26),
        "onset_precision": "day",
        "mechanism": "low",
        "pain_rest": 5,
        "pain_moving": 8,
        "pain_trend": "steady",
        "analgesic_step": "2",
        "analgesia_optimal": True,
        "neurology": "N0",
        "cancer_history": "no",
        "infection_state": "none",
        "infection_signs": ["none"],
        "takes_antithrombotics": False,
    }
    return Referral.objects.create(patient=patient, **defaults | fields)


def make_fracture(referral: Referral, **fields: Any) -> Fracture:
    defaults = {
        "patient": referral.patient,
        "level": "L1",
        "onset_on": referral.onset_on,
        "onset_precision": referral.onset_precision,
        "tender": True,
        "matches_imaging": True,
        "cause": "osteoporotic",
    }
    return Fracture.objects.create(referral=referral, **defaults | fields)


def make_reading(fracture: Fracture, observer: User, **fields: Any) -> Reading:
    """A reading on a study of its own: MRI with oedema, intact posterior wall."""
    seen_on = fields.pop("read_on", TODAY - timedelta(days=6))
    study = fields.pop("study", None) or Study.objects.create(
        patient=fracture.patient,
        modality="mri",
        sequences="T1, STIR",
        performed_on=seen_on,
        posture="supine",
        counted_from="sacrum",
    )
    defaults = {
        "level": fracture.level,
        "end_plates": "superior",
        "oedema": "band",
        "posterior_wall": "intact",
    }
    return Reading.objects.create(
        study=study, fracture=fracture, observer=observer, read_on=seen_on, **defaults | fields
    )


def make_measurement(reading: Reading, **fields: Any) -> Measurement:
    defaults = {
        "observer": reading.observer,
        "measured_on": reading.read_on,
        "method": "workstation",
        "posture": "supine",
        "calibration": "calibrated",
        "anterior_height_mm": Decimal("16.4"),
        "middle_height_mm": Decimal("15.5"),
        "posterior_height_mm": Decimal("26.2"),
        "depth_mm": Decimal("34.0"),
    }
    return Measurement.objects.create(reading=reading, **defaults | fields)


def make_technique(site: Site, **fields: Any) -> Technique:
    n = next(_number)
    return Technique.objects.create(
        site=site,
        **{"name": f"Balloon tamping {n}", "route": "balloon", "typical_minutes": 45} | fields,
    )


def make_procedure(
    fracture: Fracture, technique: Technique, operator: User, **fields: Any
) -> Procedure:
    """An open procedure with one treated level, on TODAY."""
    defaults = {"performed_on": TODAY, "anaesthesia": "sedation"}
    procedure = Procedure.objects.create(
        patient=fracture.patient, technique=technique, operator=operator, **defaults | fields
    )
    TreatedLevel.objects.create(procedure=procedure, fracture=fracture, side="both")
    return procedure


def make_review(procedure: Procedure, **fields: Any) -> Review:
    day = procedure.performed_on
    defaults = {
        "timepoint": "weeks_2_4",
        "anchor_on": day,
        "target_on": day + timedelta(days=21),
        "opens_on": day + timedelta(days=14),
        "closes_on": day + timedelta(days=28),
    }
    return Review.objects.create(
        patient=procedure.patient, procedure=procedure, **defaults | fields
    )


def make_score(review: Review, instrument: str = "pain_now", value: int | None = 3) -> Score:
    absent = {} if value is not None else {"value": "not_known"}
    return Score.objects.create(review=review, instrument=instrument, value=value, absent=absent)


def make_protocol(site: Site, **fields: Any) -> Protocol:
    defaults = {
        "name": "Shipped protocol",
        "starts_on": date(2024, 1, 1),
        "values": {},
        "ruleset_id": "test",
        "ruleset_digest": "0" * 64,
        "digest": "0" * 64,
    }
    return Protocol.objects.create(site=site, **defaults | fields)


def make_decision(fracture: Fracture, user: User, **fields: Any) -> Decision:
    defaults = {"route": "balloon", "reason": "Severe pain, fresh fracture.", "decided_on": TODAY}
    return Decision.objects.create(fracture=fracture, made_by=user, **defaults | fields)


def make_plan(decision: Decision, technique: Technique, **fields: Any) -> ProcedurePlan:
    plan = ProcedurePlan.objects.create(
        patient=decision.fracture.patient, technique=technique, **{"expected_minutes": 45} | fields
    )
    PlannedLevel.objects.create(
        plan=plan, fracture=decision.fracture, decision=decision, side="both"
    )
    return plan


def make_session(site: Site, **fields: Any) -> TheatreSession:
    defaults = {"held_on": TODAY, "starts_at": time(8, 30), "minutes": 240, "room": "Theatre 4"}
    return TheatreSession.objects.create(site=site, **defaults | fields)


def make_entry(session: TheatreSession, plan: ProcedurePlan, **fields: Any) -> ListEntry:
    return ListEntry.objects.create(
        session=session, plan=plan, **{"place": 1, "minutes": 45} | fields
    )
