"""One patient's record: the spine, the chosen fracture with its reasons, and what happened."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from planning.evidence import Evidence, evidence_of_many
from planning.facts import facts_from
from planning.freshness import freshness
from planning.heights import fracture_measured, measured_levels, same_study
from planning.models import Decision
from planning.next_step import NextStep, next_step, planned_entry
from planning.rules.facts import CaseFacts
from planning.rules.outcomes import Stage
from planning.selectors import facts_lists as lists
from planning.selectors.restoration import RestorationPart, restoration_part
from planning.selectors.spine import by_weight, closeup_of, fracture_words, spine_strip
from planning.selectors.timeline import Event, timeline
from planning.selectors.verdicts import AssessmentView, view_of
from planning.selectors.waiting import WAITING_STATES
from planning.selectors.waiting_rows import clock_face, urgency_words, urgent_reasons
from planning.services.decisions import newest_assessment
from planning.services.protocols import InForce, in_force
from planning.stages import stage_of
from register.domain.days import day_words
from register.domain.drawing.clock import ClockFace
from register.domain.drawing.closeup import Closeup
from register.domain.drawing.strip import Strip
from register.domain.identity import Identity, identity_of
from register.domain.levels import above, below
from register.models import Fracture, Patient, Referral, Study
from register.selectors.numbering import open_disagreements


@dataclass(frozen=True, slots=True)
class FractureView:
    """The chosen fracture with everything that the page says about it.

    `unassessed` says in two sentences where it stands while there is no assessment.
    """

    fracture: Fracture
    heading: str
    is_waiting: bool
    face: ClockFace
    closeup: Closeup
    closeup_note: str
    facts: tuple[tuple[str, lists.Facts], ...]
    more_facts: tuple[tuple[str, lists.Facts], ...]
    assessment: AssessmentView | None
    unassessed: tuple[str, str]
    decisions: tuple[Decision, ...]
    plan_words: str
    plan_id: int | None
    step: NextStep | None
    restoration: RestorationPart | None
    referral: Referral | None
    urgency: str
    urgent_reasons: list[str]


@dataclass(frozen=True, slots=True)
class RecordView:
    """The whole page. `numbered_differently` are pairs of studies that wait for a person."""

    patient: Patient
    identity: Identity
    strip: Strip
    others: tuple[tuple[Fracture, str], ...]
    chosen: FractureView | None
    events: list[Event]
    numbered_differently: list[tuple[Study, Study]]


def record_of(patient: Patient, *, on: date, fracture_id: int | None = None) -> RecordView:
    """Return the record, with one fracture chosen: the asked one, else the one that waits.

    The queries do not grow with the record.
    """
    current = in_force(patient.site, on)
    fractures = by_weight(
        Fracture.objects.live().filter(patient=patient).select_related("patient__site")
    )
    chosen = next((f for f in fractures if f.pk == fracture_id), next(iter(fractures), None))
    found = evidence_of_many([chosen], on=on)[chosen.pk] if chosen else None
    newest = Referral.objects.live().filter(patient=patient).first()
    return RecordView(
        patient=patient,
        identity=identity_of(patient, newest, on),
        strip=spine_strip(
            fractures,
            found.patient_readings if found else (),
            current=chosen,
            on=on,
            window_days=current.window_days,
            url=patient.get_absolute_url(),
        ),
        others=tuple(
            (f, fracture_words(f, on, current.window_days)) for f in fractures if f != chosen
        ),
        chosen=_fracture(found, on, current) if found else None,
        events=timeline(patient, current.values),
        numbered_differently=open_disagreements(patient),
    )


def _fracture(evidence: Evidence, on: date, current: InForce) -> FractureView:
    fracture, facts = evidence.fracture, facts_from(evidence, on=on)
    stage = stage_of(evidence, on=on)
    view = _assessment(evidence, facts, stage, current)
    plan = evidence.plan
    return FractureView(
        fracture=fracture,
        heading=_heading(evidence, facts),
        is_waiting=fracture.state in WAITING_STATES,
        face=clock_face(fracture, on, current.window_days),
        closeup=closeup_of(evidence),
        closeup_note=_closeup_note(evidence),
        facts=(
            ("This fracture", lists.level_facts(evidence)),
            ("Shape", lists.shape_facts(evidence)),
            ("Images", lists.image_facts(facts, evidence)),
        ),
        more_facts=(
            ("Complaint", lists.complaint_facts(facts, evidence)),
            ("Body and blood", lists.body_facts(facts, evidence)),
        ),
        assessment=view,
        unassessed=_unassessed(fracture, stage),
        decisions=evidence.decisions,
        plan_words=_plan_words(plan),
        plan_id=plan.pk if plan else None,
        step=_step(evidence, view),
        restoration=restoration_part(evidence, current.values, on=on),
        referral=evidence.referral,
        urgency=urgency_words(evidence.referrals),
        urgent_reasons=urgent_reasons(facts, evidence, current) if _waits(fracture) else [],
    )


def _assessment(
    evidence: Evidence, facts: CaseFacts, stage: Stage, current: InForce
) -> AssessmentView | None:
    made = newest_assessment(evidence.fracture)
    if made is None:
        return None
    state = freshness(made, facts=facts, stage=stage, in_force=current)
    return view_of(made, state if _waits(evidence.fracture) else None)


def _unassessed(fracture: Fracture, stage: Stage) -> tuple[str, str]:
    """Return what stands in the place of an answer that the rules have not given."""
    earlier = fracture.treatments.live().filter(
        procedure__state="earlier", procedure__voided_at=None
    )
    if fracture.state == "treated" and earlier.exists():
        words = "Treated before the register began; nothing was assessed here."
        return "Nothing to assess", words
    return "Not assessed yet", f"The rules of {stage.words} are due."


def _waits(fracture: Fracture) -> bool:
    """Whether something is still to be done; a treated fracture needs no fresh assessment."""
    return fracture.state in ("waiting", "listed", "conservative", "transferred")


def _step(evidence: Evidence, view: AssessmentView | None) -> NextStep | None:
    if evidence.fracture.state not in WAITING_STATES:
        return None
    return next_step(evidence, view.assessment if view else None, view.freshness if view else None)


def _heading(evidence: Evidence, facts: CaseFacts) -> str:
    """The level with what gave way: "L1, upper end plate"."""
    plates = {
        "superior": "upper end plate",
        "inferior": "lower end plate",
        "both": "both end plates",
        "none": "neither end plate",
    }
    words = plates.get(facts.end_plates or "", "")
    return ", ".join(part for part in (evidence.fracture.level, words) if part)


def _closeup_note(evidence: Evidence) -> str:
    """Say which neighbours come from another examination: their size then compares poorly."""
    own = fracture_measured(evidence)
    if own is None:
        return ""
    here, anywhere = same_study(evidence, own), measured_levels(evidence.patient_readings)
    level = evidence.fracture.level
    strangers = [
        f"{near} from {day_words(anywhere[near].reading.study.performed_on)}"
        for near in (above(level), below(level))
        if near in anywhere and near not in here
    ]
    return f"From another examination: {', '.join(strangers)}." if strangers else ""


def _plan_words(plan: Any) -> str:
    if plan is None:
        return ""
    entry = planned_entry(plan)
    if entry is not None:
        return f"{plan.technique}, on the list of {day_words(entry.session.held_on)}"
    if plan.state == "approved":
        return f"{plan.technique}, approved by {plan.approved_by}"
    return f"{plan.technique}, draft"
