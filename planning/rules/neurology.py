"""Rules on the cord and the roots. Any deficit goes to a spinal surgeon first."""

from planning.rules.core import rule
from planning.rules.outcomes import (
    Action,
    Effect,
    Outcome,
    Stage,
    caution,
    met,
    refer_urgently,
    undecided,
)
from register.domain.vocabulary import EPIDURAL_GRADE, NEUROLOGY, codes, words_for


@rule(
    id="NEUROLOGY-01",
    version=1,
    title="No neurological deficit",
    stage=Stage.TRIAGE,
    effect=Effect.REFERS_URGENTLY,
    also=(Effect.CAUTIONS,),
    sources=("ao-neurology", "spinal-opinion-first"),
    decides=True,
)
def no_neurological_deficit(*, neurology: str) -> Outcome:
    """N2 to N4 refer on urgently; N1, a deficit that recovered, is a caution; NX is not N0."""
    grade = words_for(NEUROLOGY, neurology)
    if neurology == "N0":
        return met(f"Neurological grade {grade}.")
    if neurology == "N1":
        return caution(f"Neurological grade {grade}; examine again before any procedure.")
    if neurology == "NX":
        return undecided(
            "neurology",
            sentence=f"Neurological grade {grade}; an unexamined patient is not an intact one.",
            action=Action(
                "examine again when possible, and have the canal seen on MRI or CT",
                "the clinician in charge",
                "before the decision",
            ),
        )
    return refer_urgently(
        f"Neurological grade {grade}; from N2 on a spinal surgeon is asked first.",
        what="urgent opinion",
        who="spinal surgeon",
    )


@rule(
    id="NEUROLOGY-02",
    version=1,
    title="The cord is not compressed from the epidural space",
    stage=Stage.DECISION,
    effect=Effect.REFERS_URGENTLY,
    sources=("bilsky-2010", "spinal-opinion-first"),
    parameters={"grade_from": "wall.epidural_grade_from"},
)
def cord_is_free(*, epidural_grade: str, grade_from: str) -> Outcome:
    """Grades 0, 1a and 1b are met; the bound itself refers on."""
    order = codes(EPIDURAL_GRADE)
    grade = words_for(EPIDURAL_GRADE, epidural_grade)
    sentence = f"Epidural grade {grade}; from {grade_from} a spinal surgeon is asked first."
    if order.index(epidural_grade) < order.index(grade_from):
        return met(sentence)
    return refer_urgently(sentence, what="urgent opinion", who="spinal surgeon")
