"""One of everything, so that every page has something to show."""

import csv
import io
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.utils.timezone import localdate, now

from planning.services.assessments import assessment_record
from register.models import (
    BoneDensity,
    LaboratoryResult,
    ReferralDrug,
    StockItem,
    Task,
    TheatreLogEntry,
    User,
)
from register.services.imports import import_keep
from register.services.outcomes import attempt_record
from register.services.procedures import cement_add, complication_add, implant_add, leak_add
from register.services.receipts import form_token
from register.services.transfers import records_merge
from reports.demo.names import gtin, scan
from reports.models import AuditReport
from tests.factories import (
    make_decision,
    make_entry,
    make_fracture,
    make_measurement,
    make_patient,
    make_plan,
    make_procedure,
    make_reading,
    make_referral,
    make_review,
    make_score,
    make_session,
    make_site,
    make_technique,
    make_user,
)
from tests.pictures import confirm_numbering, make_marking, make_series

ROLES = ("consultant", "nurse", "lead", "administrator")
TODAY = localdate()


@dataclass(frozen=True)
class World:
    """People by role, and the values that stand in addresses."""

    people: dict[str, User]
    values: dict[str, Any]


def make_world(name: str = "Harrowmere General Hospital") -> World:
    """Make one of everything; call it inside `acting`."""
    site = make_site(name=name)
    people = {role: make_user(site, role) for role in ROLES}
    consultant = people["consultant"]
    technique = make_technique(site)
    stock = StockItem.objects.create(
        site=site, kind="implant", name="Implant", gtin=gtin(7), lot="B2", quantity=2,
        expires_on=TODAY + timedelta(days=500), size_label="5.0 mm",
    )  # fmt: skip
    waiting = _waiting(consultant)
    treated = _treated(consultant, technique, stock)
    patient = waiting["fracture"].patient
    planned = make_plan(make_decision(waiting["fracture"], consultant, decided_on=TODAY), technique)
    session = make_session(site, held_on=TODAY + timedelta(days=7), consultant=consultant)
    entry = make_entry(session, planned)
    kept = import_keep(
        site=site, user=consultant, file_name="referrals.csv", content=_file(),
        date_order="dmy", today=TODAY,
    )  # fmt: skip
    logged = TheatreLogEntry.objects.create(
        site=site, performed_on=treated["procedure"].performed_on, reference="412",
        hospital_number=treated["procedure"].patient.hospital_number,
        family_name=treated["procedure"].patient.family_name,
        procedure_words="Cement augmentation", procedure=treated["procedure"],
    )  # fmt: skip
    task = Task.objects.create(
        patient=patient, kind="result", title="Myeloma tests", owner=consultant,
        due_on=TODAY + timedelta(days=5),
    )  # fmt: skip
    stands, aside = make_patient(site), make_patient(site)
    merged = records_merge(
        stay=stands, gone=aside, versions=(1, 1), chosen={}, kept={}, reason="One person",
        user=people["nurse"],
    )  # fmt: skip
    last = TODAY.replace(day=1, month=3 * ((TODAY.month - 1) // 3) + 1) - timedelta(days=1)
    first = date(last.year, last.month - 2, 1)
    report = AuditReport.objects.create(
        site=site, title="Vertebral fracture audit", first_day=first, last_day=last, spec={},
        rows=b"", rows_sha256="0" * 64, pdf=b"%PDF-", pdf_sha256="1" * 64,
        issued_by=people["lead"], issued_at=now(),
    )  # fmt: skip
    reading = waiting["reading"]
    confirm_numbering(reading.study, consultant)
    series = make_series(reading.study)
    marking = make_marking(reading, series.frames.get())
    return World(
        people,
        {
            "series_id": series.pk,
            "frame_id": marking.frame_id,
            "marking_id": marking.pk,
            "view": "lateral",
            "patient_id": patient.pk,
            "referral_id": waiting["fracture"].referral_id,
            "fracture_id": waiting["fracture"].pk,
            "study_id": waiting["reading"].study_id,
            "reading_id": waiting["reading"].pk,
            "level": "L2",
            "assessment_id": waiting["assessment"].pk,
            "result_id": waiting["result"].pk,
            "task_id": task.pk,
            "plan_id": planned.pk,
            "planned_id": planned.levels.get().pk,
            "session_id": session.pk,
            "entry_id": entry.pk,
            "procedure_id": treated["procedure"].pk,
            "kind": "cement",
            "part_id": treated["cement"].pk,
            "review_id": treated["review"].pk,
            "import_id": kept.pk,
            "line_id": logged.pk,
            "year": last.year,
            "number": (last.month - 1) // 3 + 1,
            "report_id": report.pk,
            "technique_id": technique.pk,
            "item_id": stock.pk,
            "user_id": people["nurse"].pk,
            "other_id": treated["procedure"].patient_id,
            "to_id": treated["procedure"].patient_id,
            "transfer_id": merged.pk,
        },
    )


def _waiting(consultant: User) -> dict[str, Any]:
    patient = make_patient(
        consultant.site,
        family_name="Featherstonehaugh-Oakenthwaite",
        given_name="Wilhelmina Antoinette",
    )
    referral = make_referral(
        patient, referred_on=TODAY - timedelta(days=4), onset_on=TODAY - timedelta(days=20),
        takes_antithrombotics=True,
    )  # fmt: skip
    ReferralDrug.objects.create(referral=referral, drug="apixaban")
    fracture = make_fracture(referral)
    reading = make_reading(fracture, consultant, read_on=TODAY - timedelta(days=3))
    make_measurement(reading)
    BoneDensity.objects.create(
        patient=patient, site="hip", measured_on=TODAY - timedelta(days=9), t_score=Decimal("-2.7")
    )
    result = LaboratoryResult.objects.create(
        patient=patient,
        analyte="inr",
        unit="ratio",
        value=Decimal("1.1"),
        taken_on=TODAY - timedelta(days=2),
    )
    assessment = assessment_record(fracture=fracture, made_by=consultant, as_of=TODAY)
    return {"fracture": fracture, "reading": reading, "assessment": assessment, "result": result}


def _treated(consultant: User, technique: Any, stock: StockItem) -> dict[str, Any]:
    done_on = TODAY - timedelta(days=90)
    patient = make_patient(consultant.site, family_name="Arden")
    referral = make_referral(
        patient, referred_on=done_on - timedelta(days=9), onset_on=done_on - timedelta(days=25)
    )
    fracture = make_fracture(referral, state="treated", level="T12")
    make_measurement(make_reading(fracture, consultant, read_on=done_on - timedelta(days=5)))
    procedure = make_procedure(fracture, technique, consultant, performed_on=done_on)
    level = procedure.levels.get()
    label = scan(stock.gtin, stock.expires_on or TODAY, stock.lot, f"S{consultant.site_id}")
    implant_add(level=level, raw_scan=label, user=consultant, side="left")
    cement = cement_add(level=level, user=consultant, side="left", volume_ml=Decimal("2.1"))
    leak_add(level=level, user=consultant, route="disc", place="upper_disc", seen_on="film")
    complication_add(
        procedure=procedure, user=consultant, kind="bleeding", grade="I", occurred_on=done_on
    )
    early = make_review(
        procedure,
        held_on=done_on + timedelta(days=20),
        red_flags=["none"],
        recorded_by=consultant,
    )
    make_score(early, "pain_moving", 4)
    make_score(early, "disability_24", None)
    review = make_review(
        procedure,
        timepoint="months_3",
        opens_on=TODAY - timedelta(days=20),
        target_on=TODAY,
        closes_on=TODAY + timedelta(days=36),
    )
    attempt_record(
        review=review,
        token=form_token(),
        user=consultant,
        outcome="no_answer",
        mode="telephone",
        made_at=now(),
    )
    return {"procedure": procedure, "cement": cement, "review": review}


def _file() -> bytes:
    head = "Hospital number,Family name,Given name,Date of birth,Referral date,Levels"
    rows = io.StringIO()
    writer = csv.writer(rows)
    writer.writerow(head.split(","))
    writer.writerow(["H1", "Tarnbeck", "Olive", "09 Apr 1948", "01 Mar 2026", "L1"])
    writer.writerow(["H2", "Tarnbeck", "Enid", "09 Apr 1948", "01 Mar 2026", "L9"])
    return rows.getvalue().encode()
