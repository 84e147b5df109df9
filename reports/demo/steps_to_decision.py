"""The main job from the referral file to the decision."""

import csv
import io
from datetime import date, timedelta
from decimal import Decimal
from typing import Any, Final

from planning.selectors.waiting import waiting_fractures
from planning.services.assessments import assessment_record
from planning.services.decisions import decision_record, rules_against
from planning.services.protocols import in_force
from register.domain.days import day_words
from register.domain.nhs_number import formatted
from register.models import Patient
from register.selectors.imports import preview_of
from register.services.imaging import reading_record, study_create
from register.services.imports import import_confirm, import_keep
from register.services.referrals import laboratory_record
from reports.demo import names
from reports.demo.job import Job, told

LEVEL: Final = "L1"
FINDINGS: Final = {
    "end_plates": "superior",
    "oedema": "band",
    "cleft": False,
    "fluid_sign": False,
    "posterior_wall": "intact",
    "retropulsion_mm": Decimal(0),
    "canal_percent": 0,
    "pedicle_signal": False,
    "posterior_element_signal": False,
    "convex_posterior_border": False,
    "epidural_grade": "0",
    "epidural_mass": False,
    "paraspinal_mass": False,
    "other_lesions": False,
    "disc_centred": False,
    "tension_band": "intact",
    "translation": False,
}


def referral_file(job: Job) -> bytes:
    """Return a file with one good row and one whose NHS Number is mistyped."""
    good = {
        "Hospital number": f"HD{job.number:06d}",
        "NHS Number": formatted(names.nhs_number(job.number)),
        "Family name": names.family_name(job.number),
        "Given name": "Olive",
        "Date of birth": day_words(date(job.today.year - 78, 4, 9)),
        "Sex": "female",
        "Telephone": names.telephone(job.number, mobile=False),
        "Referral date": day_words(job.today - timedelta(days=2)),
        "Source": "hospital ward",
        "In hospital": "yes",
        "Levels": LEVEL,
        "Onset date": day_words(job.today - timedelta(days=19)),
        "Mechanism": "low",
        "Pain at rest": "5",
        "Pain on movement": "8",
        "Pain trend": "unchanged",
        "Tender": "yes",
        "Matches image": "yes",
        "Analgesic step": "weak opioid",
        "Analgesia optimal": "yes",
        "Signs of failure": "pain prevents physiotherapy despite 24 hours of analgesia",
        "Neurology": "N0",
        "ASA": "3",
        "Blood thinners": "none",
        "Allergies": "none known",
        "Allergy to cement": "no",
        "Allergy to contrast": "no",
        "Cancer": "no",
        "Infection": "no infection known",
        "Infection signs": "none",
    }
    number = good["NHS Number"]
    mistyped = number[:-1] + str((int(number[-1]) + 1) % 10)
    other = {"Hospital number": f"HX{job.number:06d}", "NHS Number": mistyped, "Given name": "Enid"}
    sheet = io.StringIO()
    writer = csv.DictWriter(sheet, fieldnames=list(good), lineterminator="\r\n")
    writer.writeheader()
    writer.writerows([good, good | other])
    return sheet.getvalue().encode("utf-8-sig")


def import_referrals(job: Job) -> None:
    """A file comes in: nothing is written before the preview is confirmed."""
    content = referral_file(job)
    job.wrote("referrals.csv", content)
    nurse, before = job.people["nurse"], Patient.objects.count()
    kept = import_keep(
        site=job.site,
        user=nurse,
        file_name="referrals.csv",
        content=content,
        date_order="dmy",
        today=job.today,
    )
    preview = preview_of(kept, today=job.today)
    job.say(f"   preview: {told(preview.counts)}")
    for verdict in preview.refused:
        job.say(f"   row {verdict.number}: {' '.join(verdict.reasons)}")
    job.require(Patient.objects.count() == before, "a row was written before the confirm.")
    job.require(len(preview.to_write) == 1, "the preview does not show exactly one new row.")
    import_confirm(kept=kept, user=nurse, seen=preview.seal, today=job.today)
    job.patient = Patient.objects.get(site=job.site, hospital_number=f"HD{job.number:06d}")
    job.require(Patient.objects.count() == before + 1, "not exactly one patient was written.")
    again = preview_of(kept, today=job.today)
    job.say(f"   the same file again: {told(again.counts)}")
    job.require(not again.to_write, "the same file would be written twice.")


def find_waiting(job: Job) -> None:
    """The fracture is on the worklist, in its place."""
    current = in_force(job.site, job.today)
    rows = list(waiting_fractures(job.site, on=job.today, current=current))
    places = [place for place, row in enumerate(rows, 1) if row.patient_id == job.patient.pk]
    job.require(len(places) == 1, "the imported fracture is not on the worklist once.")
    job.fracture = rows[places[0] - 1]
    closes_on = job.fracture.closes_on  # type: ignore[attr-defined]
    job.say(
        f"   {job.fracture.level} at place {places[0]} of {len(rows)}; "
        f"the window closes on {day_words(closes_on)}"
    )


def record_findings(job: Job) -> None:
    """The images are read: findings, heights of the level and of both neighbours; blood."""
    consultant = job.people["consultant"]
    study = study_create(
        patient=job.patient,
        user=consultant,
        modality="mri",
        sequences="T1, T2, STIR; sagittal and axial",
        performed_on=job.today - timedelta(days=1),
        posture="supine",
        counted_from="sacrum",
        transitional="no",
        rib_bearing_bodies=12,
    )
    reading_record(
        study=study,
        level=LEVEL,
        reading=None,
        expected_version=1,
        user=consultant,
        findings=FINDINGS
        | {"fracture": job.fracture, "observer": consultant, "read_on": job.today},
        measurement=heights("15.8", "14.9", "22.6", "33.1"),
        neighbours={
            "T12": heights("21.6", "20.8", "22.9", "32.0"),
            "L2": heights("24.3", "23.2", "25.1", "34.0"),
        },
    )
    laboratory_record(
        patient=job.patient,
        taken_on=job.today - timedelta(days=1),
        values={"inr": Decimal("1.0"), "platelets": Decimal(241), "crp": Decimal(4)},
        user=consultant,
    )
    job.say("   one reading, three measured levels, three blood values")


def heights(front: str, middle: str, back: str, depth: str) -> dict[str, Any]:
    """Return the fields of a measurement, in mm."""
    sizes = dict(
        zip(
            ("anterior_height_mm", "middle_height_mm", "posterior_height_mm", "depth_mm"),
            (Decimal(size) for size in (front, middle, back, depth)),
            strict=True,
        )
    )
    return sizes | {"method": "workstation", "posture": "supine", "calibration": "calibrated"}


def assess(job: Job) -> None:
    """The rules in force are applied, and what they said is kept."""
    job.fracture.refresh_from_db()
    job.assessment = assessment_record(
        fracture=job.fracture, made_by=job.people["consultant"], as_of=job.today
    )
    results = list(job.assessment.results.all())
    verdicts = [result.verdict for result in results]
    job.require(len(results) >= 8, "fewer than eight rules were applied.")
    job.require(bool(job.assessment.ruleset_digest), "the digest of the rule set is missing.")
    job.say(f"   {job.assessment.answer_words}; {len(results)} rules:")
    counted = {verdict: verdicts.count(verdict) for verdict in dict.fromkeys(verdicts)}
    job.say(f"   {told({name.replace('_', ' '): n for name, n in counted.items()})}")
    unknown = job.assessment.answer == "cannot_assess"
    job.require(not unknown, "a deciding fact is missing although all were entered.")


def decide(job: Job) -> None:
    """A person decides, with a reason, after the team met."""
    route = "expandable"
    against = rules_against(job.assessment, route)
    job.decision = decision_record(
        fracture=job.fracture,
        route=route,
        reason="Fresh collapse with severe pain at the level of oedema; analgesia fails.",
        decided_on=job.today,
        made_by=job.people["consultant"],
        assessment=job.assessment,
        second_name=job.people["consultant2"] if against else None,
        team_meeting_on=job.today,
        team_present="Two consultants, specialist nurse, radiologist",
    )
    job.say(f"   {job.decision.get_route_display()}, by {job.decision.made_by}")
