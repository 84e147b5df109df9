"""Rules on whether the bone is unhealed. Oedema is a sign of that state, not a clock."""

from datetime import date
from decimal import Decimal

from planning.rules.core import rule
from planning.rules.outcomes import (
    Action,
    Effect,
    Outcome,
    Stage,
    caution,
    speaks_for,
    undecided,
)
from register.domain.clock import fracture_age, onset_range
from register.domain.vocabulary import MODALITY, NO_MRI_REASON, OEDEMA, words_for


@rule(
    id="HEALING-01",
    version=1,
    title="The bone at this level is unhealed",
    stage=Stage.TRIAGE,
    effect=Effect.CAUTIONS,
    also=(Effect.SUPPORTS,),
    sources=("ta279", "oedema-course-2025", "vapour"),
    parameters={"subacute_until": "clock.subacute_until_days"},
    decides=True,
)
def bone_is_unhealed(
    *,
    as_of: date,
    oedema: str | None,
    no_mri_reason: str | None,
    mri_equivalent: str | None,
    equivalent_fresh: bool | None,
    onset_on: date | None,
    onset_precision: str | None,
    subacute_until: Decimal,
) -> Outcome:
    """Oedema on MRI, or, when MRI is not possible, a fresh fracture on a stated equivalent.

    Half of the fractures that do not collapse have lost their oedema at one
    year, and severe collapse keeps it: it says "unhealed", never how old.
    """
    if oedema is not None and oedema != "none":
        return speaks_for(f"Oedema on MRI ({words_for(OEDEMA, oedema)}): the bone is unhealed.")
    if oedema == "none":
        return _without_oedema(as_of, onset_on, onset_precision, subacute_until)
    if no_mri_reason is None:
        return undecided("oedema")
    return _without_mri(no_mri_reason, mri_equivalent, equivalent_fresh)


def _without_oedema(
    as_of: date, onset_on: date | None, precision: str | None, subacute_until: Decimal
) -> Outcome:
    if onset_on is not None and onset_range(onset_on, precision or "day")[0] <= as_of:
        age = fracture_age(onset_on, precision or "day", as_of)
        if age.least_days > subacute_until:
            return caution(
                f"No oedema, and the fracture is {age.words} old; older than {subacute_until} "
                "days and without oedema it has probably healed."
            )
    return caution("No oedema on MRI: that the bone is unhealed is not shown.")


def _without_mri(reason: str, equivalent: str | None, fresh: bool | None) -> Outcome:
    because = f"MRI is not possible ({words_for(NO_MRI_REASON, reason)})"
    name = words_for(MODALITY, equivalent) if equivalent else "the examination in its place"
    if equivalent is None and fresh is None:
        return undecided(
            "mri_equivalent",
            "equivalent_fresh",
            sentence=f"{because}, and no other examination is named that shows a fresh fracture.",
            action=Action("bone scan or SPECT-CT", "referrer", "before the decision"),
        )
    if fresh is None:
        return undecided(
            "equivalent_fresh",
            sentence=f"{because}; what {name} shows at this level is not recorded.",
        )
    if fresh:
        return speaks_for(f"{because}; {name} shows a fresh fracture.")
    return caution(f"{because}; {name} does not show a fresh fracture.")
