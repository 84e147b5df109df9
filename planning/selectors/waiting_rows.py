"""The rows of the worklist as people read them: a fixed number of queries for any page."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from planning.evidence import Evidence, evidence_of_many
from planning.facts import facts_from
from planning.freshness import Freshness, freshness
from planning.models import Assessment
from planning.next_step import NextStep, next_step, record_url
from planning.rules.facts import CaseFacts, words_of
from planning.rules.outcomes import listed
from planning.selectors.waiting import DEFICIT, INFECTION, severe_grades
from planning.services.assessments import missing_json
from planning.services.protocols import InForce
from planning.stages import stage_of
from register.domain.clock import window
from register.domain.days import age_years, day_words
from register.domain.drawing.clock import ClockFace
from register.domain.vocabulary import MODALITY, OEDEMA, SEX, URGENCY, words_for
from register.models import Fracture, Measurement, Patient, Referral

SHOWN_MISSING = 3
# How the list is divided; the order of the rows is that of selectors.waiting.
BANDS = {
    "urgent": "Urgent: within days",
    "": "Soon, or urgency not set",
    "routine": "No clock",
}


@dataclass(frozen=True, slots=True)
class WaitingRow:
    """One waiting fracture in words. No cell is empty."""

    fracture: Fracture
    name: str
    person: str
    record_url: str
    has_similar_name: bool
    measurement: Measurement | None
    end_plates: str
    face: ClockFace
    pain: str
    oedema: str
    missing: str
    step: NextStep
    may_act: bool
    band: str
    urgency: str
    answer: str


@dataclass(frozen=True, slots=True)
class UrgentRow:
    """One fracture on the urgent pathway: who, which level, why, and what was decided."""

    fracture: Fracture
    name: str
    person: str
    record_url: str
    has_similar_name: bool
    reasons: str


def newest_assessments(fractures: Iterable[Fracture]) -> dict[int, Assessment]:
    """Return the newest live assessment by fracture. One query."""
    rows = (
        Assessment.objects.live()
        .filter(fracture__in=list(fractures))
        .order_by("fracture_id", "-created_at", "-pk")
        .distinct("fracture_id")
    )
    return {row.fracture_id: row for row in rows}


def rows_of(
    listed: Sequence[Fracture],
    urgent: Sequence[Fracture],
    *,
    on: date,
    current: InForce,
    similar: set[int],
    rights: frozenset[str],
) -> tuple[list[WaitingRow], list[UrgentRow]]:
    """Return a page of the list and the whole urgent box, for somebody with these rights."""
    everything = [*listed, *urgent]
    evidence = evidence_of_many(everything, on=on)
    assessments = newest_assessments(everything)
    shown = {
        f.pk: _Case(evidence[f.pk], assessments.get(f.pk), on=on, current=current)
        for f in everything
    }
    return (
        [shown[f.pk].row(f.patient_id in similar, rights) for f in listed],
        [shown[f.pk].urgent_row(f.patient_id in similar) for f in urgent],
    )


class _Case:
    """One fracture with its facts and its newest assessment, ready to be put into words."""

    def __init__(
        self, evidence: Evidence, assessment: Assessment | None, *, on: date, current: InForce
    ) -> None:
        self.evidence, self.assessment, self.on, self.current = evidence, assessment, on, current
        self.facts = facts_from(evidence, on=on)
        self.stage = stage_of(evidence, on=on)

    def row(self, has_similar_name: bool, rights: frozenset[str]) -> WaitingRow:
        fracture, step = self.evidence.fracture, self._step()
        return WaitingRow(
            fracture=fracture,
            name=str(fracture.patient),
            person=person_words(fracture.patient, self.on),
            record_url=record_url(self.evidence),
            has_similar_name=has_similar_name,
            measurement=self.evidence.measurement,
            end_plates=self.facts.end_plates or "",
            face=clock_face(fracture, self.on, self.current.window_days),
            pain=_pain(self.facts, self.evidence.referrals),
            oedema=oedema_words(self.facts),
            missing=self._missing(),
            step=step,
            may_act=step.right in rights,
            band=BANDS.get(_urgency_code(self.evidence.referrals), BANDS[""]),
            urgency=urgency_words(self.evidence.referrals),
            answer=self.assessment.answer_words if self.assessment else "not assessed",
        )

    def urgent_row(self, has_similar_name: bool) -> UrgentRow:
        fracture, decision = self.evidence.fracture, self.evidence.decision
        reasons = urgent_reasons(self.facts, self.evidence, self.current)
        if decision is not None:
            decided = f"{decision.get_route_display()}, {day_words(decision.decided_on)}"
            reasons.append(f"decided: {decided}, {decision.made_by}")
        return UrgentRow(
            fracture=fracture,
            name=str(fracture.patient),
            person=person_words(fracture.patient, self.on),
            record_url=record_url(self.evidence),
            has_similar_name=has_similar_name,
            reasons="; ".join(reasons),
        )

    def _freshness(self) -> Freshness | None:
        if self.assessment is None:
            return None
        return freshness(self.assessment, facts=self.facts, stage=self.stage, in_force=self.current)

    def _step(self) -> NextStep:
        return next_step(self.evidence, self.assessment, self._freshness())

    def _missing(self) -> str:
        """What the rules of the present stage lack, the deciding facts first."""
        results = self.current.rules.evaluate(self.facts, self.current.values, stage=self.stage)
        missing = sorted(missing_json(results), key=lambda entry: not entry["decides"])
        words = [entry["words"] for entry in missing]
        if len(words) > SHOWN_MISSING:
            more = len(words) - SHOWN_MISSING + 1
            words = [*words[: SHOWN_MISSING - 1], f"{more} more"]
        return listed(words) or "nothing"


# --- words ------------------------------------------------------------------


def person_words(patient: Patient, on: date) -> str:
    """Return age and sex: "84 y, female"."""
    sex = words_for(SEX, patient.sex) if patient.sex else "sex not recorded"
    return f"{age_years(patient.date_of_birth, on)} y, {sex}"


def clock_face(fracture: Fracture, on: date, window_days: int) -> ClockFace:
    """Return the clock of a fracture; an onset that lies ahead counts as not recorded."""
    onset, precision = fracture.onset_on, fracture.onset_precision
    if onset is not None and onset > on:
        onset = None
    return ClockFace(window(onset, precision, on, window_days=window_days), window_days)


def _pain(facts: CaseFacts, referrals: Sequence[Referral]) -> str:
    at_rest = next((r.pain_rest for r in referrals if r.pain_rest is not None), None)
    if facts.pain_moving is None and at_rest is None:
        return "not recorded"
    both = (facts.pain_moving, at_rest)
    return " / ".join("not recorded" if value is None else str(value) for value in both)


def oedema_words(facts: CaseFacts) -> str:
    """Return what is known of healing: on MRI, on what stands in its place, or why neither."""
    if facts.oedema is not None:
        return f"{words_for(OEDEMA, facts.oedema)}, MRI {day_words(facts.dates.get('oedema'))}"
    if facts.equivalent_fresh is not None and facts.mri_equivalent is not None:
        fresh = "fresh" if facts.equivalent_fresh else "not fresh"
        return f"{fresh} on {words_for(MODALITY, facts.mri_equivalent)}"
    if facts.no_mri_reason is not None:
        return f"no MRI: {words_of('no_mri_reason', facts.no_mri_reason)}"
    return "not recorded"


def urgency_words(referrals: Sequence[Referral]) -> str:
    """Return what a person set, when: "urgent: within days, set 05 Mar 2027"; blank for nothing."""
    for referral in referrals:
        if referral.urgency:
            words = words_for(URGENCY, referral.urgency)
            return f"{words}, set {day_words(referral.urgency_set_on)}"
    return ""


def _urgency_code(referrals: Sequence[Referral]) -> str:
    return next((r.urgency for r in referrals if r.urgency), "")


def urgent_reasons(facts: CaseFacts, evidence: Evidence, current: InForce) -> list[str]:
    """Return why a fracture is on the urgent pathway, each with its day."""
    reasons = []
    if facts.neurology in DEFICIT:
        since = next((r.neurology_since for r in evidence.referrals if r.neurology_since), None)
        day = since or facts.dates.get("neurology")
        verb = "since" if since else "recorded"
        reasons.append(f"{words_of('neurology', facts.neurology)}, {verb} {day_words(day)}")
    if facts.infection_state in INFECTION:
        words = words_of("infection_state", facts.infection_state)
        reasons.append(f"{words}, recorded {day_words(facts.dates.get('infection_state'))}")
    if facts.epidural_grade in severe_grades(current):
        words = words_of("epidural_grade", facts.epidural_grade)
        day = facts.dates.get("epidural_grade")
        reasons.append(f"epidural compression {words}, images of {day_words(day)}")
    return reasons
