"""The only bridge from rows to the facts that rules look at.

Per fact the newest recorded value counts, with the day of its observation.
What is blank, or empty for a stated reason ("not known", "not done"), is None.
Nothing is guessed: a film does not speak about oedema on MRI, another level's
reading not about this one, an earlier complaint not about this fracture.
"""

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import Any, Final

from planning.evidence import Evidence, evidence_of_many
from planning.heights import height_loss_fact
from planning.rules.facts import CaseFacts
from register.domain.days import age_years
from register.models import Fracture, Referral

# Facts that have the name of the column they come from.
_FROM_REFERRAL: Final = (
    "mechanism",
    "pain_moving",
    "pain_trend",
    "analgesia_optimal",
    "neurology",
    "infection_state",
    "cancer_history",
    "no_mri_reason",
    "pregnancy",
    "allergy_to_cement",
    "allergy_to_contrast",
)
_LISTS_FROM_REFERRAL: Final = ("failure_criteria", "infection_signs")
_FROM_READING: Final = (
    "epidural_grade",
    "posterior_wall",
    "retropulsion_mm",
    "canal_percent",
    "tension_band",
    "translation",
    "disc_centred",
    "convex_posterior_border",
    "pedicle_signal",
    "posterior_element_signal",
    "epidural_mass",
    "paraspinal_mass",
    "other_lesions",
    "end_plates",
)
_FROM_LABORATORY: Final = {"inr": "inr", "platelets_10e9_l": "platelets", "crp_mg_l": "crp"}
# Examinations that can show a fresh fracture when MRI is not possible (as in VAPOUR: SPECT-CT).
_IN_PLACE_OF_MRI: Final = ("bone_scan", "spect_ct")

Found = tuple[Any, date | None]
NOTHING: Final[Found] = (None, None)


def facts_of(fracture: Fracture, *, on: date) -> CaseFacts:
    """Return what is known of one fracture on a day."""
    return facts_of_many([fracture], on=on)[fracture.pk]


def facts_of_many(fractures: Iterable[Fracture], *, on: date) -> dict[int, CaseFacts]:
    """Return the facts by fracture id; the same number of queries for one and for many."""
    found = evidence_of_many(fractures, on=on)
    return {pk: facts_from(evidence, on=on) for pk, evidence in found.items()}


def facts_from(evidence: Evidence, *, on: date) -> CaseFacts:
    """Return the facts of evidence that is already loaded. No query."""
    found: dict[str, Found] = {
        **_person_and_level(evidence, on),
        **{name: _newest(evidence.referrals, name) for name in _FROM_REFERRAL},
        **{name: _newest(evidence.readings, name) for name in _FROM_READING},
        **{name: _laboratory(evidence, code) for name, code in _FROM_LABORATORY.items()},
        **_healing(evidence),
        **_bone(evidence),
        **_team_and_plan(evidence),
    }
    for name in _LISTS_FROM_REFERRAL:
        value, day = _newest(evidence.referrals, name)
        found[name] = (tuple(value) if value else None, day)
    found["antithrombotics"] = _antithrombotics(evidence.referrals)
    found["height_loss_percent"] = height_loss_fact(evidence)
    known = {name: pair for name, pair in found.items() if pair[0] is not None}
    return CaseFacts(
        as_of=on,
        dates={name: day for name, (_, day) in known.items() if day is not None},
        **{name: value for name, (value, _) in known.items()},
    )


def _newest(rows: Sequence[Any], name: str) -> Found:
    """Return the newest recorded value of a column and its day."""
    for row in rows:
        value = getattr(row, name)
        if value is not None and value != "" and value != []:
            return value, _day_of(row)
    return NOTHING


def _day_of(row: Any) -> date:
    """Return the day of the observation: of a reading, the day the images were made."""
    return row.referred_on if isinstance(row, Referral) else row.study.performed_on


def _person_and_level(evidence: Evidence, on: date) -> dict[str, Found]:
    fracture, patient = evidence.fracture, evidence.fracture.patient
    return {
        "age_years": (age_years(patient.date_of_birth, on), None),
        "sex": (patient.sex or None, None),
        "level": (fracture.level, None),
        "onset_on": (fracture.onset_on, None),
        "onset_precision": (fracture.onset_precision or None, None),
        "cause": (fracture.cause or None, None),
        "tender": (fracture.tender, None),
        "matches_imaging": (fracture.matches_imaging, None),
    }


def _laboratory(evidence: Evidence, analyte: str) -> Found:
    for row in evidence.laboratory:
        if row.analyte == analyte:
            return row.value, row.taken_on
    return NOTHING


def _healing(evidence: Evidence) -> dict[str, Found]:
    """Oedema counts on MRI only; the stated equivalent is judged by its own reading."""
    on_mri = [r for r in evidence.readings if r.study.modality == "mri"]
    stated, stated_on = _newest(evidence.referrals, "mri_equivalent")
    allowed = (stated,) if stated else _IN_PLACE_OF_MRI
    others = [r for r in evidence.readings if r.study.modality in allowed and r.oedema]
    fresh: Found = (others[0].oedema != "none", _day_of(others[0])) if others else NOTHING
    if stated is None and others:
        stated, stated_on = others[0].study.modality, _day_of(others[0])
    return {
        "oedema": _newest(on_mri, "oedema"),
        "mri_equivalent": (stated, stated_on),
        "equivalent_fresh": fresh,
    }


def _bone(evidence: Evidence) -> dict[str, Found]:
    """The newest T-score; attenuation only of L1, where the published bound was made."""
    scores = [row for row in evidence.densities if row.t_score is not None]
    attenuations = [
        row
        for row in evidence.densities
        if row.attenuation_hu is not None and row.attenuation_level == "L1"
    ]
    score: Found = NOTHING
    if scores:
        same_day = [row for row in scores if row.measured_on == scores[0].measured_on]
        lowest = min(same_day, key=lambda row: row.t_score)
        score = (Decimal(lowest.t_score), lowest.measured_on)
    return {
        "t_score": score,
        "attenuation_hu": (attenuations[0].attenuation_hu, attenuations[0].measured_on)
        if attenuations
        else NOTHING,
    }


def _antithrombotics(referrals: Sequence[Referral]) -> Found:
    """Pairs of drug and indication. "Takes some" without a named drug is not "takes none"."""
    for referral in referrals:
        drugs = tuple((drug.drug, drug.indication) for drug in referral.drugs.all())
        if drugs:
            return drugs, referral.referred_on
        if referral.takes_antithrombotics is False:
            return (), referral.referred_on
        if referral.takes_antithrombotics:
            return NOTHING
    return NOTHING


def _team_and_plan(evidence: Evidence) -> dict[str, Found]:
    met = [d.team_meeting_on for d in evidence.decisions if d.team_meeting_on is not None]
    started, _ = _newest(evidence.referrals, "bone_drug_started_on")
    levels = len(evidence.plan.levels.all()) if evidence.plan else None
    return {
        "team_reviewed": (True, max(met)) if met else NOTHING,
        "bone_plan": (True, started) if started else NOTHING,
        "levels_planned": (levels, None),
    }
