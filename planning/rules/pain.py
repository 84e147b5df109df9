"""Rules on pain: severe, at this level, going on despite care, not improving."""

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
    speaks_for,
    undecided,
)
from register.domain.vocabulary import FAILURE_CRITERION, FRACTURE_CAUSE, words_for


@rule(
    id="PAIN-01",
    version=1,
    title="Pain on movement is severe",
    stage=Stage.TRIAGE,
    effect=Effect.RULES_OUT_ROUTE,
    also=(Effect.CAUTIONS, Effect.SUPPORTS),
    sources=("ta279", "vertos-2", "contraindications-list"),
    parameters={"severe_from": "pain.severe_from"},
    decides=True,
)
def pain_is_severe(*, pain_moving: int, severe_from: Decimal) -> Outcome:
    """The national appraisal asks for severe pain without a number; the bound itself counts.

    No pain at all speaks against. Points of 10, on movement.
    """
    measured = f"Pain on movement {pain_moving} of 10; severe starts at {severe_from}."
    if pain_moving >= severe_from:
        return speaks_for(measured)
    return speaks_against(measured) if pain_moving == 0 else caution(measured)


def outside_commissioning(*, cause: str | None) -> str | None:
    """Return why English commissioning does not concern a fracture: it covers osteoporotic ones."""
    if cause in (None, "osteoporotic", "unclear"):
        return None
    return (
        f"Commissioning covers osteoporotic fractures; cause: {words_for(FRACTURE_CAUSE, cause)}."
    )


@rule(
    id="PAIN-02",
    version=1,
    title="Pain on movement reaches what commissioning asks for",
    stage=Stage.TRIAGE,
    effect=Effect.RULES_OUT_ROUTE,
    also=(Effect.SUPPORTS,),
    sources=("commissioning-2025",),
    parameters={"commissioned_from": "pain.commissioned_from"},
    applies=outside_commissioning,
    decides=True,
)
def pain_reaches_the_commissioned_bound(*, pain_moving: int, commissioned_from: Decimal) -> Outcome:
    """English commissioning asks for at least this; the bound itself counts. Points of 10."""
    measured = (
        f"Pain on movement {pain_moving} of 10; commissioning asks for {commissioned_from} or more."
    )
    return speaks_for(measured) if pain_moving >= commissioned_from else speaks_against(measured)


@rule(
    id="PAIN-03",
    version=1,
    title="The pain comes from this level",
    stage=Stage.DECISION,
    effect=Effect.RULES_OUT_ROUTE,
    also=(Effect.CAUTIONS, Effect.SUPPORTS),
    sources=("ta279", "commissioning-2025", "vertos-2"),
)
def pain_comes_from_this_level(*, tender: bool | None, matches_imaging: bool | None) -> Outcome:
    """Confirmed by examination and by imaging, as both texts ask."""
    if matches_imaging is False:
        return speaks_against("The point of greatest pain does not match the image of this level.")
    if tender is False:
        return caution("The level is not tender; pain is to be confirmed by examination.")
    missing = [
        name
        for name, value in (("tender", tender), ("matches_imaging", matches_imaging))
        if value is None
    ]
    if missing:
        return undecided(*missing)
    return speaks_for("The level is tender and the point of greatest pain matches the image.")


@rule(
    id="PAIN-04",
    version=1,
    title="Pain goes on despite optimal analgesia",
    stage=Stage.DECISION,
    effect=Effect.NOT_YET,
    also=(Effect.SUPPORTS,),
    sources=("ta279", "sir-2014"),
)
def pain_goes_on_despite_analgesia(
    *, analgesia_optimal: bool | None, failure_criteria: tuple[str, ...] | None
) -> Outcome:
    """A published sign that conservative care fails, or a judgement that analgesia is optimal."""
    failing = [code for code in failure_criteria or () if code != "none"]
    if failing:
        return speaks_for(f"Conservative care fails: {words_for(FAILURE_CRITERION, failing[0])}.")
    if analgesia_optimal:
        return speaks_for("Pain goes on although analgesia is judged optimal.")
    if analgesia_optimal is False:
        return not_yet(
            "Analgesia is not optimal yet, and no sign that conservative care fails is recorded.",
            what="optimise analgesia and ask again",
            who="referrer or pain team",
            by="before the decision",
        )
    return undecided("analgesia_optimal")


@rule(
    id="PAIN-05",
    version=1,
    title="Pain is not improving",
    stage=Stage.DECISION,
    effect=Effect.RULES_OUT_ROUTE,
    sources=("contraindications-list", "ta279"),
)
def pain_is_not_improving(*, pain_trend: str) -> Outcome:
    """An improving fracture is left alone; many settle within weeks."""
    if pain_trend == "improving":
        return speaks_against("Pain is improving; a fracture that settles is left to heal.")
    return met("Pain is getting worse." if pain_trend == "worsening" else "Pain is unchanged.")
