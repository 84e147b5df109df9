"""Rules on bleeding. Augmentation counts as a high-risk procedure; no dates are given here."""

from decimal import Decimal

from planning.rules.core import rule
from planning.rules.facts import drug_words
from planning.rules.outcomes import (
    Effect,
    Outcome,
    Stage,
    caution,
    listed,
    met,
    not_yet,
    speaks_against,
    undecided,
)

ASK_FIRST = ("stent_recent", "mechanical_valve", "stroke_recent", "venous_recent")
Pairs = tuple[tuple[str, str], ...]


@rule(
    id="BLEEDING-01",
    version=1,
    title="INR allows a high-risk needle",
    stage=Stage.PLAN,
    effect=Effect.RULES_OUT_ROUTE,
    also=(Effect.NOT_YET, Effect.CAUTIONS),
    sources=("sir-2019", "contraindications-list"),
    parameters={"up_to": "bleeding.inr_up_to", "at_most": "bleeding.inr_at_most"},
)
def inr_allows_a_needle(
    *, inr: Decimal, antithrombotics: Pairs | None, up_to: Decimal, at_most: Decimal
) -> Outcome:
    """The published bound is a range, 1.5 to 1.8: met up to the first, caution up to the second.

    Above it, warfarin can be stopped ("not yet"); without warfarin the cause is not
    one that waiting removes.
    """
    measured = f"INR {inr}; accepted up to {up_to}, with caution up to {at_most}."
    if inr <= up_to:
        return met(measured)
    if inr <= at_most:
        return caution(measured)
    if any(drug == "warfarin" for drug, _ in antithrombotics or ()):
        return not_yet(
            f"{measured} Warfarin is being taken.",
            what="stop warfarin by the approved table and test again",
            who="the team that started it, with the clinician in charge",
            by="before the day",
        )
    if antithrombotics is None:
        return speaks_against(f"{measured} Which drugs are taken is not recorded.")
    return speaks_against(f"{measured} Warfarin is not on the list of drugs.")


@rule(
    id="BLEEDING-02",
    version=1,
    title="Enough platelets for a high-risk needle",
    stage=Stage.PLAN,
    effect=Effect.NOT_YET,
    sources=("sir-2019",),
    parameters={"enough_from": "bleeding.platelets_from"},
)
def platelets_are_enough(*, platelets_10e9_l: Decimal, enough_from: Decimal) -> Outcome:
    """The bound itself is enough. ×10⁹/L."""
    measured = f"Platelets {platelets_10e9_l} ×10⁹/L; enough from {enough_from} ×10⁹/L."
    if platelets_10e9_l >= enough_from:
        return met(measured)
    return not_yet(
        measured, what="ask haematology; transfusion", who="haematology", by="before the day"
    )


@rule(
    id="BLEEDING-03",
    version=1,
    title="Antithrombotic drugs can be handled",
    stage=Stage.PLAN,
    effect=Effect.NOT_YET,
    also=(Effect.CAUTIONS,),
    sources=("approved-table", "sir-2019"),
)
def antithrombotics_can_be_handled(*, antithrombotics: Pairs) -> Outcome:
    """Recent stent, mechanical valve, recent stroke or thrombosis: not without the other team."""
    if not antithrombotics:
        return met("No antithrombotic drug.")
    words = listed([drug_words(drug, use) for drug, use in antithrombotics])
    if any(use in ASK_FIRST for _, use in antithrombotics):
        return not_yet(
            f"Takes {words}: not without the team that started it.",
            what="ask whether and how the drug may be stopped; record who was asked",
            who="the team that started it",
            by="before the plan",
        )
    if not all(use for _, use in antithrombotics):
        return undecided("antithrombotics", sentence=f"Takes {words}.")
    return caution(f"Takes {words}; dates come only from the approved table.")
