"""Rules on the person, the session and the care around it."""

from decimal import Decimal

from planning.rules.core import rule
from planning.rules.outcomes import (
    Effect,
    Outcome,
    Stage,
    caution,
    met,
    not_yet,
    speaks_against,
    undecided,
)
from planning.rules.pain import outside_commissioning


def _cannot_be_pregnant(
    *, sex: str | None, age_years: int | None, youngest: Decimal, oldest: Decimal
) -> str | None:
    if sex == "male":
        return "Not asked of men."
    if age_years is not None and not youngest <= age_years <= oldest:
        return f"Not asked at the age of {age_years}; asked from {youngest} to {oldest} years."
    return None


@rule(
    id="BODY-01",
    version=1,
    title="Not pregnant",
    stage=Stage.PLAN,
    effect=Effect.RULES_OUT_ROUTE,
    also=(Effect.NOT_YET,),
    sources=("relative-contraindications", "pregnancy-ages"),
    parameters={"youngest": "body.pregnancy_age_from", "oldest": "body.pregnancy_age_to"},
    applies=_cannot_be_pregnant,
)
def not_pregnant(*, pregnancy: str) -> Outcome:
    """Fluoroscopy and cement; asked where sex and age allow a pregnancy, or are not recorded."""
    if pregnancy == "yes":
        return speaks_against("Pregnant: fluoroscopy and cement speak against a procedure.")
    if pregnancy == "possible":
        return not_yet(
            "A pregnancy is possible.",
            what="pregnancy test",
            who="the clinician in charge",
            by="before the day",
        )
    return met("Not pregnant.")


@rule(
    id="BODY-02",
    version=1,
    title="No allergy to acrylic cement",
    stage=Stage.PLAN,
    effect=Effect.RULES_OUT_ROUTE,
    sources=("contraindications-list",),
    routes=("cement", "balloon", "expandable"),
)
def no_allergy_to_cement(*, allergy_to_cement: bool) -> Outcome:
    """Speaks against every route that leaves acrylic cement in the body."""
    if allergy_to_cement:
        return speaks_against("Allergy to acrylic cement is recorded.")
    return met("No allergy to acrylic cement.")


@rule(
    id="BODY-03",
    version=1,
    title="No allergy to contrast",
    stage=Stage.PLAN,
    effect=Effect.CAUTIONS,
    sources=("contraindications-list",),
)
def no_allergy_to_contrast(*, allergy_to_contrast: bool) -> Outcome:
    """Contrast is used in some techniques only; a caution for the plan."""
    if allergy_to_contrast:
        return caution("Allergy to contrast is recorded: plan without it.")
    return met("No allergy to contrast.")


@rule(
    id="BODY-04",
    version=1,
    title="Not too many levels in one session",
    stage=Stage.PLAN,
    effect=Effect.CAUTIONS,
    sources=("levels-per-session",),
    parameters={"at_most": "body.levels_at_most"},
)
def not_too_many_levels(*, levels_planned: int, at_most: Decimal) -> Outcome:
    """The ceiling itself is met. Levels treated in one session."""
    sentence = f"Levels planned in one session: {levels_planned}; at most {at_most}."
    return caution(sentence) if levels_planned > at_most else met(sentence)


@rule(
    id="BODY-05",
    version=1,
    title="Team review and a plan for bone health",
    stage=Stage.PLAN,
    effect=Effect.NOT_YET,
    sources=("commissioning-2025",),
    applies=outside_commissioning,
)
def team_and_bone_plan(*, team_reviewed: bool | None, bone_plan: bool | None) -> Outcome:
    """Two of the conditions of English commissioning that belong to a patient.

    The other two, spinal surgery within reach and audit in place, are the
    department's own and are settled with its protocol.
    """
    todo = []
    if team_reviewed is False:
        todo.append("discuss in the team meeting")
    if bone_plan is False:
        todo.append("agree a plan for bone health")
    if todo:
        return not_yet(
            "Commissioning asks for team review and measures for bone health.",
            what=" and ".join(todo),
            who="the clinician in charge",
            by="before the plan",
        )
    asked = (("team_reviewed", team_reviewed), ("bone_plan", bone_plan))
    missing = [name for name, value in asked if value is None]
    return undecided(*missing) if missing else met("Reviewed by the team, with a plan for bone.")
