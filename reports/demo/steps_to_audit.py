"""The main job from the plan to the audit."""

from datetime import time
from decimal import Decimal
from typing import Final

from planning.models import TheatreSession
from planning.services.operations import procedure_finish, procedure_from_entry
from planning.services.plans import plan_approve, plan_create
from planning.services.protocols import in_force
from planning.services.theatre import entry_add, session_create
from planning.views.theatre import list_document
from register.domain.days import day_words
from register.models import Review, StockItem, Technique, TreatedLevel
from register.services.outcomes import ScoreEntry, review_record
from register.services.procedures import cement_add, implant_add, leak_add, procedure_change
from register.services.receipts import form_token
from reports.audits.spec import quarter_before, quarter_of
from reports.demo import names
from reports.demo.job import Job
from reports.services import audit_issue, audit_make, audit_redo

SCORES: Final = {
    "pain_now": ScoreEntry(6),
    "pain_worst": ScoreEntry(9),
    "pain_moving": ScoreEntry(8),
    "disability_24": ScoreEntry(None, absent="declined"),
    "analgesic_step": ScoreEntry(2),
    "mobility": ScoreEntry(3),
}


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
    first, last = quarter_before(job.today)
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
