"""Rules on infection: of the spine, or elsewhere under treatment."""

from decimal import Decimal

from planning.rules.core import rule
from planning.rules.outcomes import (
    Effect,
    Outcome,
    Stage,
    caution,
    listed,
    met,
    not_yet,
    refer_urgently,
    undecided,
)
from register.domain.vocabulary import INFECTION_SIGN, INFECTION_STATE, words_for

STRONG_SIGNS = ("fever", "bacteraemia")


@rule(
    id="INFECTION-01",
    version=1,
    title="No infection",
    stage=Stage.TRIAGE,
    effect=Effect.REFERS_URGENTLY,
    also=(Effect.NOT_YET, Effect.CAUTIONS),
    sources=("contraindications-list", "infection-flags"),
    decides=True,
)
def no_infection(
    *,
    infection_state: str | None,
    infection_signs: tuple[str, ...] | None,
    cause: str | None,
) -> Outcome:
    """Active or suspected refers on; treated elsewhere or fever waits; weak signs caution.

    Either the judgement or the signs must be recorded.
    """
    state = words_for(INFECTION_STATE, infection_state or "")
    if infection_state in ("active", "suspected") or cause == "infection":
        judged = "The fracture is judged to come from an infection"
        return refer_urgently(
            f"{judged if cause == 'infection' else state.capitalize()}.",
            what="blood cultures, inflammatory markers and MRI with contrast",
            who="spinal surgeon and infection team",
        )
    if infection_state == "treated":
        return not_yet(
            f"{state.capitalize()}; cement waits until it has cleared.",
            what="confirm that the infection has cleared",
            who="treating team",
            by="before the procedure is booked",
        )
    if infection_state is None and infection_signs is None:
        return undecided(
            "infection_state", sentence="Neither infection nor signs of it are recorded."
        )
    return _signs(state, tuple(sign for sign in infection_signs or () if sign != "none"))


def _signs(state: str, signs: tuple[str, ...]) -> Outcome:
    words = listed([words_for(INFECTION_SIGN, sign) for sign in signs])
    if set(signs) & set(STRONG_SIGNS):
        return not_yet(
            f"Infection is not excluded: {words}.",
            what="inflammatory markers, blood cultures and MRI with contrast",
            who="referrer",
            by="within days",
        )
    if signs:
        return caution(f"May point to infection: {words}.")
    return met(
        "No sign of infection is recorded." if state == "not recorded" else f"{state}.".capitalize()
    )


@rule(
    id="INFECTION-02",
    version=1,
    title="The change is not centred on the disc",
    stage=Stage.DECISION,
    effect=Effect.NOT_YET,
    sources=("abdel-wanis-2011", "infection-flags"),
)
def change_is_not_centred_on_the_disc(*, disc_centred: bool) -> Outcome:
    """Disc involvement was a sign of infective collapse; a fracture starts in the body."""
    if not disc_centred:
        return met("The change is not centred on a disc.")
    return not_yet(
        "The change is centred on a disc, as in infection.",
        what="inflammatory markers, blood cultures and MRI with contrast; biopsy if unclear",
        who="the clinician in charge",
        by="within days",
    )


@rule(
    id="INFECTION-03",
    version=1,
    title="C-reactive protein is not raised",
    stage=Stage.PLAN,
    effect=Effect.CAUTIONS,
    sources=("crp-bound", "infection-flags"),
    parameters={"raised_from": "infection.crp_from"},
)
def crp_is_not_raised(*, crp_mg_l: Decimal, raised_from: Decimal) -> Outcome:
    """The bound itself counts as raised. mg/L."""
    sentence = f"C-reactive protein {crp_mg_l} mg/L; raised from {raised_from} mg/L."
    return caution(sentence) if crp_mg_l >= raised_from else met(sentence)
