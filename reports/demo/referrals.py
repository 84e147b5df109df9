"""Referrals and fractures: what is known on the day somebody asks for help."""

from dataclasses import dataclass, field
from datetime import date, timedelta
from random import Random
from typing import Any

from register.domain.levels import above, below, order
from reports.demo import names, parameters
from reports.demo.book import Book, Row, between, days, leave_out, log_normal, pick, tenth
from reports.demo.people import Profile

# Share of referrals whose field is empty; all invented.
REFERRAL_GAPS = {
    "pain_rest": 0.06,
    "analgesia_days": 0.2,
    "weight_kg": 0.08,
    "height_cm": 0.16,
    "frailty_index_5": 0.35,
    "can_lie_prone": 0.15,
    "liver_disease": 0.12,
    "takes_steroids": 0.07,
    "mobility": 0.05,
    "asa_grade": 0.06,
    "allergy_to_latex": 0.1,
    "mechanism": 0.03,
}
# The same for what the rules ask; kept small, since a referral form asks for it.
ASKED_GAPS = {
    "pain_trend": 0.03,
    "analgesia_optimal": 0.03,
    "infection_signs": 0.03,
    "allergy_to_cement": 0.04,
    "allergy_to_contrast": 0.04,
}
INDICATION = {
    "aspirin": ("coronary", "stroke", "peripheral"),
    "clopidogrel": ("stroke", "coronary", "peripheral"),
    "warfarin": ("atrial_fibrillation", "mechanical_valve", "venous_old"),
    "lmwh_prophylactic": ("prophylaxis",),
}
DOSE = {
    "aspirin": "75 mg once a day",
    "clopidogrel": "75 mg once a day",
    "apixaban": "5 mg twice a day",
    "rivaroxaban": "20 mg once a day",
    "edoxaban": "60 mg once a day",
    "dabigatran": "110 mg twice a day",
    "warfarin": "by INR",
    "lmwh_prophylactic": "40 mg once a day",
}


@dataclass
class Broken:
    """One broken vertebra as it really is: the share of height lost, and where."""

    level: str
    loss: float
    wedge: bool
    cleft: bool = False
    findings: dict[str, Any] = field(default_factory=dict)


@dataclass
class Episode:
    """One referral with its fractures, on its way through the department."""

    patient: Row
    profile: Profile
    onset_on: date
    referred_on: date
    broken: list[Broken]
    destiny: str
    referral: Row = field(init=False)
    fractures: list[Row] = field(default_factory=list)
    takes: list[str] = field(default_factory=list)
    pain_moving: int = 0

    @property
    def cause(self) -> str:
        """What really broke the vertebra."""
        return self.profile.cause


def draw_broken(rng: Random, levels: list[str]) -> list[Broken]:
    """Draw how far each level has collapsed, and in which shape."""
    return [
        Broken(
            level,
            loss=between(rng, *parameters.LOSS.value),
            wedge=rng.random() < parameters.WEDGE.value,
            cleft=rng.random() < parameters.CLEFT.value,
        )
        for level in levels
    ]


def draw_levels(rng: Random) -> list[str]:
    """Draw one to three levels of one onset; further ones lie next to the first."""
    first = pick(rng, parameters.LEVEL.value)
    levels = [first]
    for _ in range(int(pick(rng, parameters.LEVELS_AT_ONCE.value)) - 1):
        near = [n for n in (above(levels[0]), below(levels[-1])) if n in parameters.LEVEL.value]
        levels.append(rng.choice([n for n in near if n is not None]))
        levels.sort(key=order)
    return levels


def draw_days_to_referral(rng: Random) -> int:
    """Draw the days from the onset to the referral."""
    return round(min(max(log_normal(rng, *parameters.DAYS_TO_REFERRAL.value), 1), 150))


def add_referral(
    book: Book,
    rng: Random,
    episode: Episode,
    *,
    given: dict[str, Any] | None = None,
    onset_precision: str | None = None,
    tender: bool | None = True,
    matches_imaging: bool | None = True,
) -> None:
    """Write the referral, its drugs and its fractures into the book and the episode.

    `given` overrides what is drawn; `onset_precision` "" is an onset that nobody knows.
    """
    if onset_precision is None:
        onset_precision = pick(rng, parameters.PRECISION.value)
    onset = _onset(episode.onset_on, onset_precision)
    fields = _drawn(rng, episode) | onset | (given or {})
    fields["pain_rest"] = min(fields["pain_rest"], fields["pain_moving"])
    if fields["takes_antithrombotics"] is False:
        episode.takes = []
    gaps = REFERRAL_GAPS | ASKED_GAPS
    fields = leave_out(rng, fields, {n: gaps[n] for n in gaps if n not in (given or {})})
    episode.pain_moving = fields["pain_moving"]
    episode.referral = book.add("referral", patient=episode.patient, **fields)
    _add_drugs(book, rng, episode)
    for broken in episode.broken:
        episode.fractures.append(
            book.add(
                "fracture",
                patient=episode.patient,
                referral=episode.referral,
                level=broken.level,
                state="waiting",
                cause="unclear" if episode.cause == "infection" else episode.cause,
                tender=tender,
                matches_imaging=matches_imaging,
                earlier_fracture=None,
                absent={"onset_on": "not_known"} if onset["onset_on"] is None else {},
                **{k: onset[k] for k in ("onset_on", "onset_precision")},
            )
        )


def _onset(onset_on: date, precision: str) -> dict[str, Any]:
    if not precision:
        return {"onset_on": None, "onset_precision": "", "absent": {"onset_on": "not_known"}}
    known = onset_on.replace(day=1) if precision == "month" else onset_on
    return {"onset_on": known, "onset_precision": precision, "absent": {}}


def _drawn(rng: Random, episode: Episode) -> dict[str, Any]:
    """Draw what a referrer and the first examination say."""
    profile, cause = episode.profile, episode.cause
    operated = episode.destiny in ("procedure", "listed")
    usual = parameters.PAIN_BEFORE if operated else parameters.PAIN_BEFORE_CONSERVATIVE
    moving = round(between(rng, *usual.value, 6 if operated else 2, 10))
    inpatient = rng.random() < parameters.INPATIENT.value
    takes = rng.random() < parameters.ANTITHROMBOTIC.value and profile.age > 54
    if takes and not episode.takes:
        episode.takes = _draw_drugs(rng, inpatient)
    step = pick(rng, parameters.ANALGESIC.value) if operated else rng.choice("1122")
    failure = _failure(rng, operated)
    walks = "not_walking" not in failure
    return {
        "state": "open",
        "source": _source(rng, cause, inpatient),
        "referrer_name": names.doctor(rng, rng.randint(1, 600)),
        "referred_on": episode.referred_on,
        "received_on": episode.referred_on + timedelta(days=rng.choice((0, 0, 1, 1, 2, 3))),
        "is_inpatient": inpatient,
        "mechanism": "high" if cause == "trauma" else pick(rng, parameters.MECHANISM.value),
        "pain_moving": moving,
        "pain_rest": round(between(rng, moving - 2.6, 1.4, 0, moving)),
        "pain_trend": _trend(rng, episode.destiny),
        "analgesic_step": step,
        "analgesia_tried": _tried(rng, step),
        "analgesia_days": max(2, (episode.referred_on - episode.onset_on).days - rng.randint(0, 4)),
        "analgesia_optimal": step != "0",
        "failure_criteria": failure,
        "mobility": pick(rng, parameters.MOBILITY.value) if walks else rng.choice(("chair", "bed")),
        "neurology": pick(rng, parameters.NEUROLOGY.value),
        "asa_grade": profile.asa_grade,
        "frailty_index_5": min(5, int(rng.expovariate(0.8))) if profile.age > 54 else 0,
        "can_lie_prone": rng.random() < 0.93,
        "liver_disease": rng.random() < 0.03,
        "takes_antithrombotics": takes,
        **_allergies(rng),
        "takes_steroids": rng.random() < 0.11,
        "bone_drug_started_on": _bone_drug(rng, episode),
        **_body(rng, profile),
        **_illness(rng, cause),
        **_pregnancy(profile),
    }


def _allergies(rng: Random) -> dict[str, Any]:
    """Draw allergies that do not contradict each other."""
    named = rng.choice(("none known",) * 5 + ("penicillin: rash", "codeine: sickness"))
    contrast, latex = rng.random() < 0.02, rng.random() < 0.02
    return {
        "allergies": "" if named == "none known" and (contrast or latex) else named,
        "allergy_to_cement": False,
        "allergy_to_contrast": contrast,
        "allergy_to_latex": latex,
    }


def _body(rng: Random, profile: Profile) -> dict[str, Any]:
    """Weight and height by sex; invented."""
    height = (158, 6) if profile.sex == "female" else (172, 7)
    weight = (63, 12, 38, 110) if profile.sex == "female" else (77, 13, 48, 125)
    return {
        "height_cm": tenth(between(rng, *height, 140, 195) * (profile.height_factor + 1) / 2),
        "weight_kg": tenth(between(rng, *weight)),
    }


def _illness(rng: Random, cause: str) -> dict[str, Any]:
    cancer = {"tumour": ("active", "active", "past")}.get(cause, ("no",) * 8 + ("past",))
    infected = cause == "infection"
    return {
        "cancer_history": rng.choice(cancer),
        "cancer_note": "" if cause != "tumour" else rng.choice(("breast", "myeloma", "prostate")),
        "infection_state": "suspected" if infected else "none",
        "infection_signs": ["fever", "night_pain"] if infected else ["none"],
        "infection_note": "Blood cultures taken." if infected else "",
    }


def _pregnancy(profile: Profile) -> dict[str, Any]:
    asked = profile.sex == "female" and profile.age <= 55
    return {"pregnancy": "no" if asked else ""}


def _source(rng: Random, cause: str, inpatient: bool) -> str:
    if cause == "tumour":
        return "oncology"
    inside = ("emergency", "emergency", "ward", "ward", "other_hospital")
    outside = ("general_practice", "general_practice", "fracture_liaison", "clinic", "emergency")
    return rng.choice(inside if inpatient else outside)


def _trend(rng: Random, destiny: str) -> str:
    if destiny == "conservative":
        return pick(rng, {"improving": 62, "steady": 34, "worsening": 4})
    return pick(rng, {"improving": 0 if destiny != "closed" else 80, "steady": 64, "worsening": 36})


def _tried(rng: Random, step: str) -> str:
    tried = {
        "0": ("",),
        "1": ("paracetamol", "paracetamol, ibuprofen gel"),
        "2": ("paracetamol, codeine", "paracetamol, tramadol"),
        "3": ("paracetamol, morphine by mouth", "paracetamol, buprenorphine patch"),
    }
    return rng.choice(tried[step])


def _failure(rng: Random, operated: bool) -> list[str]:
    if not operated:
        return ["none"]
    chosen = ["no_physiotherapy"] if rng.random() < 0.7 else ["not_walking"]
    return [*chosen, "not_tolerated"] if rng.random() < 0.25 else chosen


def _bone_drug(rng: Random, episode: Episode) -> date | None:
    if rng.random() < 0.45:
        return None
    return episode.referred_on - days(log_normal(rng, 20, 1.6))


def _draw_drugs(rng: Random, inpatient: bool) -> list[str]:
    weights = dict(parameters.DRUG.value)
    if not inpatient:
        weights.pop("lmwh_prophylactic")
    first = pick(rng, weights)
    return [first, "clopidogrel"] if first == "aspirin" and rng.random() < 0.15 else [first]


def _add_drugs(book: Book, rng: Random, episode: Episode) -> None:
    for drug in episode.takes:
        indication = rng.choice(
            INDICATION.get(drug, ("atrial_fibrillation",) * 4 + ("venous_old",))
        )
        book.add(
            "referraldrug",
            referral=episode.referral,
            drug=drug,
            dose=DOSE[drug],
            **leave_out(rng, {"indication": indication}, {"indication": 0.05}),
        )
