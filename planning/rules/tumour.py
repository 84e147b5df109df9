"""Rules on signs that a tumour may be behind the fracture. None of them makes a diagnosis."""

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
    undecided,
)
from register.domain.levels import order

_INVESTIGATE = "marrow biopsy, MRI of the whole spine and tests for myeloma"


@rule(
    id="TUMOUR-01",
    version=1,
    title="No strong imaging sign of a tumour",
    stage=Stage.DECISION,
    effect=Effect.NOT_YET,
    sources=("abdel-wanis-2011", "synapse-series", "jung-2003"),
)
def no_strong_sign_of_a_tumour(
    *,
    convex_posterior_border: bool | None,
    pedicle_signal: bool | None,
    posterior_element_signal: bool | None,
    epidural_mass: bool | None,
    paraspinal_mass: bool | None,
    other_lesions: bool | None,
) -> Outcome:
    """One sign is enough to investigate; met only when all six were looked for and none seen."""
    signs = {
        "convex_posterior_border": ("convex posterior border", convex_posterior_border),
        "pedicle_signal": ("abnormal pedicle signal", pedicle_signal),
        "posterior_element_signal": (
            "abnormal signal of the posterior elements (seen in 21 of 29 metastatic and "
            "0 of 23 osteoporotic fractures)",
            posterior_element_signal,
        ),
        "epidural_mass": ("epidural mass", epidural_mass),
        "paraspinal_mass": (
            "paraspinal mass (16 of 29 metastatic, 0 of 23 osteoporotic)",
            paraspinal_mass,
        ),
        "other_lesions": ("other lesions", other_lesions),
    }
    seen = [words for words, value in signs.values() if value]
    if seen:
        return not_yet(
            f"Points to a tumour: {listed(seen)}.",
            what=_INVESTIGATE,
            who="the clinician in charge",
            by="before the decision",
        )
    missing = [name for name, (_, value) in signs.items() if value is None]
    if missing:
        return undecided(*missing)
    return met("None of six signs of a tumour was seen.")


@rule(
    id="TUMOUR-02",
    version=1,
    title="No tumour or cancer known",
    stage=Stage.DECISION,
    effect=Effect.NOT_YET,
    also=(Effect.CAUTIONS,),
    sources=("malignancy-flags", "cancer-and-benign"),
)
def no_cancer_known(*, cancer_history: str, cause: str | None) -> Outcome:
    """Known cancer does not settle it: up to one third of such fractures are benign."""
    if cause == "tumour":
        return not_yet(
            "The fracture is judged to come from a tumour.",
            what="agree the route with oncology and spinal surgery; score its stability",
            who="the clinician in charge and oncology",
            by="before the decision",
        )
    if cancer_history == "active":
        return not_yet(
            "Active or metastatic cancer; up to one third of fractures in cancer are benign.",
            what=f"{_INVESTIGATE}; agree with oncology",
            who="the clinician in charge and oncology",
            by="before the decision",
        )
    if cancer_history == "past":
        return caution("Cancer in the past; up to one third of fractures in cancer are benign.")
    return met("No previous cancer.")


@rule(
    id="TUMOUR-03",
    version=1,
    title="A level that osteoporotic fractures usually affect",
    stage=Stage.DECISION,
    effect=Effect.CAUTIONS,
    sources=("malignancy-flags",),
    parameters={"uppermost": "tumour.uppermost_usual_level"},
)
def level_is_usual(*, level: str, uppermost: str) -> Outcome:
    """The bound itself is usual; above it a tumour is looked for."""
    if order(level) >= order(uppermost):
        return met(f"{level} is at or below {uppermost}.")
    return caution(f"{level} is above {uppermost}, where osteoporotic fractures are unusual.")


@rule(
    id="TUMOUR-04",
    version=1,
    title="An injury or weak bone explains the fracture",
    stage=Stage.PLAN,
    effect=Effect.CAUTIONS,
    sources=("malignancy-flags", "who-t-score", "pickhardt-2013"),
    parameters={
        "normal_from": "tumour.normal_bone_t_score_from",
        "normal_above": "tumour.normal_bone_hu_above",
    },
)
def fracture_is_explained(
    *,
    mechanism: str,
    t_score: Decimal | None,
    attenuation_hu: int | None,
    normal_from: Decimal,
    normal_above: Decimal,
) -> Outcome:
    """No injury and normal bone leaves the fracture unexplained; one normal value is enough."""
    if mechanism != "none":
        return met("An injury is recorded.")
    normal = []
    if t_score is not None and t_score >= normal_from:
        normal.append(f"a T-score of {t_score} (normal from {normal_from})")
    if attenuation_hu is not None and attenuation_hu > normal_above:
        normal.append(f"{attenuation_hu} HU (osteoporosis unlikely above {normal_above} HU)")
    if normal:
        return caution(f"No injury, and {listed(normal)}: what broke the bone is not explained.")
    if t_score is None and attenuation_hu is None:
        return undecided("t_score", "attenuation_hu")
    weak = f"T-score {t_score}" if t_score is not None else f"{attenuation_hu} HU at L1"
    return met(f"No injury, but {weak}: weak bone explains the fracture.")


@rule(
    id="TUMOUR-05",
    version=1,
    title="Not the lower end plate alone",
    stage=Stage.DECISION,
    effect=Effect.CAUTIONS,
    sources=("lower-plate-trauma", "lower-plate-flag"),
)
def not_the_lower_plate_alone(*, end_plates: str) -> Outcome:
    """Rare in traumatic fractures (published); as a sign of a tumour common practice."""
    if end_plates != "inferior":
        return met("Not the lower end plate alone gave way.")
    return caution("The lower end plate alone gave way; so did 1.9 % of 263 traumatic fractures.")
