"""The main job, driven end to end through the application's own services.

From a referral file to a printed audit: each step does what a person would do
on a page, checks what came of it, and tells what it wrote. Nothing is skipped
and nothing is written past the services.
"""

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any, Final

from planning.models import Assessment, Decision, ListEntry, ProcedurePlan, TheatreSession
from planning.selectors.waiting import waiting_fractures
from planning.services.assessments import assessment_record
from planning.services.decisions import decision_record, rules_against
from planning.services.operations import procedure_finish, procedure_from_entry
from planning.services.plans import plan_approve, plan_create
from planning.services.protocols import in_force
from planning.services.theatre import entry_add, session_create
from planning.views.theatre import list_document
from register.domain.days import day_words
from register.domain.nhs_number import formatted
from register.models import (
    Fracture,
    Patient,
    Procedure,
    Reading,
    Review,
    Site,
    StockItem,
    Technique,
    TreatedLevel,
    User,
)
from register.selectors.imports import preview_of
from register.services.imaging import reading_record, study_create
from register.services.imports import import_confirm, import_keep
from register.services.outcomes import ScoreEntry, review_record
from register.services.procedures import cement_add, implant_add, leak_add, procedure_change
from register.services.receipts import form_token
from register.services.referrals import laboratory_record
from reports.audits.spec import quarter_days
from reports.demo import names
from reports.demo.load import SITE_CODE
from reports.services import audit_issue, audit_make, audit_redo

# The driven patients' numbers begin far above those of the scenario.
FIRST_NUMBER: Final = 5000
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
SCORES: Final = {
    "pain_now": ScoreEntry(6),
    "pain_worst": ScoreEntry(9),
    "pain_moving": ScoreEntry(8),
    "disability_24": ScoreEntry(None, absent="declined"),
    "analgesic_step": ScoreEntry(2),
    "mobility": ScoreEntry(3),
}

Say = Callable[[str], None]


class DriveFailed(Exception):
    """A step did not do what it should; the message says which and what."""


@dataclass
class Job:
    """What one run knows so far. `out` is the folder for the files it writes."""

    site: Site
    today: date
    out: Path
    say: Say
    number: int = 0
    people: dict[str, User] = field(default_factory=dict)
    patient: Patient = field(init=False)
    fracture: Fracture = field(init=False)
    reading: Reading = field(init=False)
    assessment: Assessment = field(init=False)
    decision: Decision = field(init=False)
    plan: ProcedurePlan = field(init=False)
    session: TheatreSession = field(init=False)
    entry: ListEntry = field(init=False)
    procedure: Procedure = field(init=False)

    def require(self, holds: bool, otherwise: str) -> None:
        """Raise DriveFailed unless something holds."""
        if not holds:
            raise DriveFailed(otherwise)

    def wrote(self, name: str, content: bytes) -> None:
        """Write a file into the out folder and say where it is."""
        path = self.out / name
        path.write_bytes(content)
        self.say(f"   wrote {path} ({len(content):,} bytes)")


def job_on(*, today: date, out: Path, say: Say) -> Job:
    """Return a job at the demo department. Raises DriveFailed when the demo is not loaded."""
    site = Site.objects.filter(code=SITE_CODE).first()
    if site is None:
        raise DriveFailed("The demo department is not loaded. Run load_demo first.")
    out.mkdir(parents=True, exist_ok=True)
    driven = Patient.objects.filter(site=site, hospital_number__startswith="HD").count()
    people = {person.username: person for person in User.objects.filter(site=site)}
    return Job(site, today, out, say, number=FIRST_NUMBER + driven, people=people)


def drive(job: Job) -> None:
    """Do every step. Raises DriveFailed naming the step and what went wrong."""
    for place, (title, step) in enumerate(STEPS, start=1):
        job.say(f"{place:2d} {title}")
        try:
            step(job)
        except Exception as error:
            raise DriveFailed(f"Step {place}, {title.lower()}: {words_of(error)}") from error


def words_of(error: Exception) -> str:
    """Return an error in the words that a page would show."""
    told = getattr(error, "messages", None)
    return " ".join(told) if told else str(error) or type(error).__name__


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
    job.reading = reading_record(
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


def plan(job: Job) -> None:
    """Both sides are planned, and a consultant approves."""
    technique = Technique.objects.live().get(site=job.site, route="expandable")
    draft = plan_create(
        patient=job.patient,
        technique=technique,
        user=job.people["consultant"],
        levels=[
            {
                "fracture": job.fracture,
                "side": "both",
                "approach": "transpedicular",
                "implant_size_label": "5.0 mm",
                "implant_count": 2,
                "biopsy": False,
                "viscosity": "high",
                "cement_ml": Decimal("4.0"),
            }
        ],
        anaesthesia="general",
        position="prone",
        antibiotic="cefuroxime 1.5 g",
        drugs_note="Takes no antithrombotic drug.",
    )
    job.plan = plan_approve(
        plan=draft, expected_version=draft.version, user=job.people["consultant"]
    )
    job.say(f"   {technique}, {job.plan.expected_minutes} minutes, approved")


def list_case(job: Job) -> None:
    """The plan goes on today's list, and the list is printed."""
    there = TheatreSession.objects.live().filter(
        site=job.site, held_on=job.today, room="Theatre 2", starts_at=time(13, 30)
    )
    job.session = there.first() or session_create(
        site=job.site,
        user=job.people["nurse"],
        held_on=job.today,
        starts_at=time(13, 30),
        minutes=240,
        room="Theatre 2",
        consultant=job.people["consultant"],
        anaesthetist=True,
        image_intensifiers=1,
        beds=2,
    )
    job.entry = entry_add(session=job.session, plan=job.plan, user=job.people["nurse"])
    job.say(f"   place {job.entry.place} of the list of {day_words(job.session.held_on)}")
    document = list_document(job.session)
    job.require(document.startswith(b"%PDF"), "the theatre list did not become a PDF.")
    job.wrote("theatre-list.pdf", document)


def record_procedure(job: Job) -> None:
    """What was done: implants from their labels, cement by side, a leak, the checks."""
    consultant = job.people["consultant"]
    job.procedure = procedure_from_entry(entry=job.entry, operator=consultant, user=consultant)
    level = TreatedLevel.objects.get(procedure=job.procedure)
    stock = StockItem.objects.live().filter(site=job.site, kind="implant", size_label="5.0 mm")
    item = stock.order_by("expires_on", "pk")[0]
    for place, side in enumerate(("left", "right")):
        serial = f"D{job.number}{place}"
        label = names.scan(item.gtin, item.expires_on or job.today, item.lot, serial)
        implant = implant_add(
            level=level, raw_scan=label, user=consultant, side=side, expansion_mm=Decimal("4.6")
        )
        job.require(implant.raw_scan == label, "the raw scan was not kept as it came.")
        job.say(f"   implant {side}: {implant.gtin}, lot {implant.lot}, serial {implant.serial}")
        cement_add(
            level=level,
            user=consultant,
            side=side,
            volume_ml=Decimal("1.9") if side == "left" else Decimal("2.2"),
            viscosity="high",
            cement_class="acrylic",
        )
    leak_add(level=level, user=consultant, route="segmental", place="paraspinal", seen_on="film")
    job.procedure.refresh_from_db()
    procedure_change(
        procedure=job.procedure,
        expected_version=job.procedure.version,
        user=consultant,
        in_room_at=time(13, 35),
        needle_at=time(13, 52),
        ended_at=time(14, 41),
        level_check="counted_sacrum",
        complication_check="none",
        dose_area_gy_cm2=Decimal("9.40"),
        fluoroscopy_s=412,
    )
    job.say("   4.1 mL of cement, one leak along a segmental vein, no complication")


def sign_procedure(job: Job) -> None:
    """The operator signs; the contacts that follow are scheduled."""
    job.procedure = procedure_finish(
        procedure=job.procedure,
        expected_version=job.procedure.version,
        user=job.people["consultant"],
    )
    job.fracture.refresh_from_db()
    job.require(job.fracture.state == "treated", "the fracture does not count as treated.")
    titles = {t.code: t.title for t in in_force(job.site, job.today).values.timepoints}
    for review in contacts(job):
        job.say(f"   {titles[review.timepoint]}: due {day_words(review.target_on)}")
    job.require(len(contacts(job)) >= 3, "fewer than three contacts were scheduled.")


def contacts(job: Job) -> list[Review]:
    """Return the contacts of the procedure, the first first."""
    return list(Review.objects.live().filter(procedure=job.procedure).order_by("target_on", "pk"))


def enter_scores(job: Job) -> None:
    """The nurse enters the scores of today, and one reason instead of a score."""
    review = contacts(job)[0]
    review_record(
        review=review,
        expected_version=review.version,
        scores=SCORES,
        fields={
            "held_on": job.today,
            "mode": "clinic",
            "informant": "patient",
            "red_flags": ["none"],
        },
        token=form_token(),
        user=job.people["nurse"],
    )
    without = [score for score in review.scores.live() if score.value is None]
    job.require(len(without) == 1 and without[0].absent == {"value": "declined"}, "reason lost.")
    job.say(f"   {review.scores.live().count() - 1} scores; {without[0]}: declined")


def issue_audit(job: Job) -> None:
    """The running quarter counts the new procedure; the last whole one is issued and redone."""
    running = audit_make(
        site=job.site,
        first_day=quarter_of(job.today)[0],
        last_day=job.today,
        cut_off=job.today,
    )
    signed = [row for row in running.rows.procedures if row.performed_on == job.today]
    job.require(any(row.signed for row in signed), "the audit does not see the procedure.")
    first, last = quarter_of(quarter_of(job.today)[0] - timedelta(days=1))
    report = audit_issue(
        site=job.site,
        first_day=first,
        last_day=last,
        cut_off=job.today,
        user=job.people["lead"],
    )
    job.wrote("audit.pdf", bytes(report.pdf))
    job.say(f"   {report.title}; SHA-256 {report.pdf_sha256[:16]}…")
    redone = audit_redo(report)
    job.require(redone.same_rows and redone.same_bytes, "printed again, the audit differs.")
    job.say("   printed again from its own rows: the same bytes")


def quarter_of(day: date) -> tuple[date, date]:
    """Return the first and last day of the quarter that holds a day."""
    return quarter_days(day.year, (day.month - 1) // 3 + 1)


def told(counts: dict[str, int]) -> str:
    """Return "1 new, 1 refused"; what does not occur is left out."""
    return ", ".join(f"{count} {name}" for name, count in counts.items() if count)


STEPS: Final[tuple[tuple[str, Callable[[Job], None]], ...]] = (
    ("Import a referral file", import_referrals),
    ("Find the fracture on the worklist", find_waiting),
    ("Record findings and heights", record_findings),
    ("Assess", assess),
    ("Decide", decide),
    ("Plan and approve", plan),
    ("List the case and print the list", list_case),
    ("Record the procedure", record_procedure),
    ("Sign and schedule follow-up", sign_procedure),
    ("Enter scores and a reason instead", enter_scores),
    ("Issue the quarter's audit", issue_audit),
)
