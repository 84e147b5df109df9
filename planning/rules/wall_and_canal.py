"""Rules on the posterior wall, the canal, stability and what is left of the body."""

from decimal import Decimal

from planning.rules.core import rule
from planning.rules.outcomes import (
    Effect,
    Outcome,
    Stage,
    caution,
    met,
    not_yet,
    shown,
    speaks_against,
    undecided,
)
from register.domain.vocabulary import POSTERIOR_WALL, words_for


@rule(
    id="WALL-01",
    version=1,
    title="Posterior wall intact",
    stage=Stage.DECISION,
    effect=Effect.CAUTIONS,
    sources=("relative-contraindications", "of-class-2018"),
)
def posterior_wall_is_intact(*, posterior_wall: str) -> Outcome:
    """A breach is contested as a contraindication; it is a caution, with its size."""
    words = words_for(POSTERIOR_WALL, posterior_wall)
    return (
        met(f"Posterior wall {words}.")
        if posterior_wall == "intact"
        else caution(f"Posterior wall {words}: cement may reach the canal.")
    )


def _wall_is_known_intact(
    *, posterior_wall: str | None, retropulsion_mm: Decimal | None, canal_percent: int | None
) -> str | None:
    if posterior_wall == "intact" and not retropulsion_mm and not canal_percent:
        return "The posterior wall is intact."
    return None


@rule(
    id="WALL-02",
    version=1,
    title="The canal is not narrowed by bone",
    stage=Stage.DECISION,
    effect=Effect.NOT_YET,
    also=(Effect.CAUTIONS,),
    sources=("relative-contraindications", "canal-bound"),
    parameters={"ask_from": "wall.canal_percent_from"},
    applies=_wall_is_known_intact,
)
def canal_is_not_narrowed(
    *, retropulsion_mm: Decimal | None, canal_percent: int | None, ask_from: Decimal
) -> Outcome:
    """Any fragment is a caution; from the bound a spinal surgeon is asked. mm and percent."""
    if canal_percent is not None and canal_percent >= ask_from:
        return not_yet(
            f"{canal_percent} % of the canal is taken up; from {ask_from} % a spinal surgeon "
            "is asked.",
            what="opinion on decompression or fixation",
            who="spinal surgeon",
            by="before the decision",
        )
    if canal_percent:
        return caution(f"{canal_percent} % of the canal is taken up; the bound is {ask_from} %.")
    if retropulsion_mm:
        return caution(f"A fragment stands back {retropulsion_mm} mm; any counts.")
    if canal_percent is None:
        return undecided("canal_percent")
    return met(f"0 % of the canal is taken up; the bound is {ask_from} %.")


@rule(
    id="WALL-03",
    version=1,
    title="The tension band holds",
    stage=Stage.DECISION,
    effect=Effect.RULES_OUT_ROUTE,
    also=(Effect.NOT_YET,),
    sources=("of-class-2018", "relative-contraindications"),
    routes=("cement", "balloon", "expandable"),
)
def tension_band_holds(*, tension_band: str | None, translation: bool | None) -> Outcome:
    """A failed band or a translation needs fixation; cement alone does not hold it."""
    if tension_band == "injured" or translation:
        what = (
            "The tension band is injured" if tension_band == "injured" else "There is translation"
        )
        return speaks_against(f"{what}: an unstable fracture, for which fixation is the question.")
    if tension_band == "suspected":
        return not_yet(
            "An injury of the tension band is suspected.",
            what="CT, and MRI with a fat-suppressed sequence; opinion on stability",
            who="spinal surgeon",
            by="before the decision",
        )
    return met("The tension band is intact.") if tension_band else undecided("tension_band")


@rule(
    id="WALL-04",
    version=1,
    title="The collapse leaves room",
    stage=Stage.PLAN,
    effect=Effect.CAUTIONS,
    sources=("relative-contraindications",),
    parameters={"extreme_above": "wall.collapse_percent_above"},
)
def collapse_leaves_room(*, height_loss_percent: Decimal, extreme_above: Decimal) -> Outcome:
    """Extreme collapse starts above the bound; the bound itself is met. Percent."""
    lost = shown(height_loss_percent, extreme_above)
    sentence = f"Height loss {lost} %; extreme above {extreme_above} %."
    return caution(sentence) if height_loss_percent > extreme_above else met(sentence)
