"""Those who wait today, one by one, and those on the next lists.

These are chosen, not drawn: each shows the worklist something that it must get
right. What is not named here is drawn as for everybody else.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from random import Random
from typing import Any, Final

from reports.demo import imaging, past, people, referrals, theatre
from reports.demo.book import Row, hundredth, tenth
from reports.demo.needles import add_needles
from reports.demo.referrals import Broken, Episode
from reports.demo.world import World


@dataclass(frozen=True)
class Case:
    """One patient by what is special about them. `age_days` is the fracture's age today."""

    why: str
    levels: str
    age_days: int
    person: tuple[str, int]
    cause: str = "osteoporotic"
    precision: str = "day"
    referred_days: int = 5
    loss: float = 0.35
    takes: tuple[str, ...] = ()
    mri: bool = True
    tender: bool | None = True
    matches: bool | None = True
    crp: float | None = None
    urgency: str = ""
    given: Mapping[str, Any] = field(default_factory=dict)
    findings: Mapping[str, Any] = field(default_factory=dict)


SEVERE: Final = {"pain_moving": 9, "pain_rest": 6, "analgesic_step": "3", "is_inpatient": True}
# What the images show where a case says nothing else.
CALM: Final = {
    "end_plates": "superior",
    "posterior_wall": "intact",
    "retropulsion_mm": tenth(0),
    "canal_percent": 0,
}
CORD: Final = {
    "posterior_wall": "fifth_or_more",
    "retropulsion_mm": tenth(7.2),
    "canal_percent": 45,
    "epidural_grade": "2",
}
TUMOUR: Final = {
    "end_plates": "inferior",
    "oedema": "whole",
    "pedicle_signal": True,
    "posterior_element_signal": True,
    "convex_posterior_border": True,
    "epidural_mass": False,
    "paraspinal_mass": False,
    "other_lesions": False,
    "shift_ratio": hundredth(1.08),
}
WAITING: Final = (
    Case("window closes in three days", "L1", 39, ("female", 81), urgency="soon", given=SEVERE,
         referred_days=9, loss=0.42),
    Case("window closes tomorrow", "T12", 41, ("female", 77), takes=("aspirin",),
         referred_days=12),
    Case("two levels, anticoagulant", "L1 L2", 37, ("male", 79), urgency="soon",
         takes=("apixaban",)),
    Case("onset known to the week", "T11", 35, ("female", 84), precision="week"),
    Case("ordinary, in time", "L3", 19, ("female", 73), given={"pain_moving": 8}),
    Case("warfarin, INR too high today", "T12", 11, ("male", 82), takes=("warfarin",)),
    Case("back wall involved, less than one fifth", "L1", 24, ("female", 78), loss=0.5,
         findings={"posterior_wall": "under_fifth", "retropulsion_mm": tenth(2.1),
                   "canal_percent": 10}),
    Case("steroids, small pedicles", "T8", 30, ("female", 69), given={"takes_steroids": True}),
    Case("back wall one fifth or more", "L2", 16, ("male", 76), loss=0.55,
         findings={"posterior_wall": "fifth_or_more", "retropulsion_mm": tenth(3.4),
                   "canal_percent": 18}),
    Case("deficit that recovered", "L4", 8, ("female", 88), urgency="soon",
         given={**SEVERE, "neurology": "N1"}, referred_days=2),
    Case("window closed, pain worse", "L1", 55, ("female", 80),
         given={"pain_trend": "worsening", "pain_moving": 8}),
    Case("window long closed, oedema still there", "T12", 96, ("male", 74),
         findings={"oedema": "partial"}),
    Case("old and healed: no oedema", "T7", 140, ("female", 86), urgency="routine",
         findings={"oedema": "none"}, given={"pain_moving": 6}),
    Case("nobody knows the onset", "L1", 60, ("female", 90), precision="", referred_days=3),
    Case("month of onset only", "T10", 33, ("female", 75), urgency="soon",
         precision="month", referred_days=4),
    Case("cord compressed: refers on today", "T11", 4, ("male", 71), urgency="urgent",
         referred_days=1, loss=0.6, findings=CORD,
         given={**SEVERE, "neurology": "N3", "asia_grade": "C"}),
    Case("infection behind it: refers on today", "L2", 20, ("male", 64), urgency="urgent",
         cause="infection", referred_days=1, crp=148, given={"infection_state": "suspected"}),
    Case("nerve root: refers on today", "L3", 13, ("female", 72), urgency="urgent", referred_days=2,
         given={"neurology": "N2"}),
    Case("tumour signs, lower end plate", "L2", 28, ("female", 67), urgency="urgent",
         cause="tumour", given={"cancer_history": "past", "cancer_note": "breast"},
         findings=TUMOUR),
    Case("young, high energy", "L1", 6, ("male", 31), cause="trauma", referred_days=2),
    Case("no MRI possible, SPECT-CT instead", "T12", 22, ("female", 83), mri=False,
         given={"no_mri_reason": "device", "no_mri_note": "Pacemaker, not conditional.",
                "mri_equivalent": "spect_ct"}),
    Case("improving, pain bearable", "L1", 26, ("female", 70), urgency="routine",
         given={"pain_trend": "improving", "pain_moving": 4, "pain_rest": 1}),
    Case("not examined yet", "T9", 17, ("female", 79), tender=None, matches=None,
         referred_days=1),
    Case("MRI not done yet", "L1", 5, ("male", 85), urgency="soon", mri=False, referred_days=1),
)  # fmt: skip
LISTED: Final = (
    Case("on the next list", "L1", 25, ("female", 79), referred_days=14),
    Case("on the next list, two levels", "T12 L1", 31, ("female", 83), referred_days=16),
    Case("on the next list, newer technique", "L2", 21, ("male", 74), referred_days=12, loss=0.45),
    Case("planned and approved, no session yet", "T11", 29, ("female", 76), referred_days=13),
    Case("plan in draft", "L3", 18, ("male", 81), referred_days=9, takes=("apixaban",)),
    Case("decided, not planned yet", "T12", 23, ("female", 87), referred_days=11),
)
LISTED_ROUTES: Final = ("balloon", "cement", "expandable", "balloon", "balloon", "cement")


def add_waiting(world: World, seed: int) -> None:
    """Write everybody who waits for a decision."""
    for number, case in enumerate(WAITING):
        episode = add_case(world, Random(f"{seed} waiting {number}"), case)
        if case.urgency:
            episode.referral.fields |= {
                "urgency": case.urgency,
                "urgency_set_by": world.staff["nurse"],
                "urgency_set_on": min(episode.referred_on + timedelta(days=1), world.today),
            }


def add_case(world: World, rng: Random, case: Case) -> Episode:
    """Write one chosen patient with referral, fractures, images and blood."""
    sex, age = case.person
    profile = people.draw_profile(rng, cause=case.cause, sex=sex, age=age)
    referred_on = world.today - timedelta(days=case.referred_days)
    patient = people.add_patient(world.book, rng, world.staff["site"], profile, on=referred_on)
    episode = Episode(
        patient,
        profile,
        onset_on=world.today - timedelta(days=case.age_days),
        referred_on=referred_on,
        broken=[
            Broken(level, case.loss, True, False, CALM | dict(case.findings))
            for level in case.levels.split()
        ],
        destiny="listed",
        takes=list(case.takes),
    )
    given = _told(case) | {"received_on": referred_on} | dict(case.given)
    referrals.add_referral(
        world.book,
        rng,
        episode,
        given=given,
        onset_precision=case.precision,
        tender=case.tender,
        matches_imaging=case.matches,
    )
    imaging.add_first_studies(
        world.book,
        rng,
        episode,
        world.doctors,
        mri=case.mri,
        within_days=min(3, case.referred_days),
    )
    if case.given.get("mri_equivalent"):
        imaging.add_equivalent(world.book, episode, world.doctors)
    imaging.add_blood(world.book, rng, episode, crp=case.crp, complete=True)
    imaging.add_bone_density(world.book, rng, episode)
    return episode


def _told(case: Case) -> dict[str, Any]:
    """What the referral says for certain, so that one case shows one thing."""
    return {
        "takes_antithrombotics": bool(case.takes),
        "neurology": "N0",
        "mechanism": "high" if case.cause == "trauma" else "low",
        "pain_moving": 8,
        "pain_trend": "steady",
        "analgesic_step": "2",
        "analgesia_tried": "paracetamol, codeine",
        "analgesia_optimal": True,
        "failure_criteria": ["no_physiotherapy"],
        "infection_signs": ["none"] if case.cause != "infection" else ["fever", "night_pain"],
        "cancer_history": "no",
        "allergy_to_cement": False,
        "allergy_to_contrast": False,
    }


def add_listed(world: World, seed: int) -> None:
    """Write those who are decided for: on the next list, planned, or not yet planned."""
    following = [s for s in world.calendar.sessions if s.row["held_on"] > world.today]
    for number, (case, route) in enumerate(zip(LISTED, LISTED_ROUTES, strict=True)):
        rng = Random(f"{seed} listed {number}")
        episode = add_case(world, rng, case)
        for fracture in episode.fractures:
            fracture.fields["state"] = "listed"
        decided_on = world.today - timedelta(days=case.referred_days - 5)
        decisions = past.decide(world, rng, episode, route, decided_on, team=True)
        if number < len(LISTED) - 1:
            plan = _plan(world, rng, episode, decisions, route, approved=number < 4)
            if number < 3:
                theatre.list_plan(world.book, following[0], plan)


def _plan(
    world: World, rng: Random, episode: Episode, decisions: list[Row], route: str, *, approved: bool
) -> Row:
    technique = world.shelf.techniques[route]
    on = decisions[0]["decided_on"] + timedelta(days=1)
    plan = theatre.add_plan(
        world.book, rng, episode, decisions, technique, world.staff, on=on, approved=approved
    )
    for planned in world.book.of("plannedlevel"):
        if planned["plan"] is plan:
            add_needles(world.book, planned)
    return plan
