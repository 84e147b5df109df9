"""Whether two measurements of one vertebra may be subtracted: same posture, same scale.

Posture alone changes a height by more than most procedures do (15 patients: J Orthop
Surg Res 2020, s13018-020-01649-y, Table 1; read), and a scale of another basis changes
every length. What is not recorded is never taken to be the same.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, TypeVar

from register.domain.vocabulary.base import Words

# Examinations whose images are all taken in one posture: from the way they are made, no source.
ONE_POSTURE: Final = ("ct", "mri", "spect_ct", "dxa")

# Why not, as words that follow "not comparable:".
WHY_NOT: Final[Words] = (
    ("posture_missing", "posture not recorded"),
    ("posture", "different postures"),
    ("uncalibrated", "not calibrated, ratios only"),
    ("calibration_missing", "calibration not recorded"),
    ("calibration", "calibrated in different ways"),
)

Item = TypeVar("Item")


@dataclass(frozen=True, slots=True)
class Circumstances:
    """How the images of a measurement were taken and scaled; '' is "not recorded"."""

    posture: str
    calibration: str


def stated_posture(posture: str, *, answered: bool, modality: str, of_study: str) -> str:
    """Return the posture stated with the heights; otherwise that of the examination, if it has one.

    A film examination may hold standing and lying views, and a reason given for
    the missing posture (`answered`) is an answer: both stay ''.
    """
    silent = not posture and not answered
    return of_study if silent and modality in ONE_POSTURE else posture


def why_not_comparable(one: Circumstances, other: Circumstances, *, in_mm: bool = True) -> str:
    """Return a code of WHY_NOT, '' when the two may be subtracted. Angles need no scale."""
    if not (one.posture and other.posture):
        return "posture_missing"
    if one.posture != other.posture:
        return "posture"
    scales = (one.calibration, other.calibration)
    if not in_mm:
        return ""
    if "none" in scales:
        return "uncalibrated"
    if "" in scales:
        return "calibration_missing"
    return "" if one.calibration == other.calibration else "calibration"


def nearest_comparable(
    after: Circumstances, before: Iterable[tuple[Item, Circumstances]], *, in_mm: bool = True
) -> tuple[Item | None, str]:
    """Return the first of what was measured before that may be subtracted, with ''.

    Without any: the one that comes nearest to it, with the reason why not; (None, '')
    when nothing was measured before.
    """
    found: tuple[Item | None, str] = (None, "")
    order = [code for code, _ in WHY_NOT]
    for one, circumstances in before:
        why = why_not_comparable(circumstances, after, in_mm=in_mm)
        if not why:
            return one, ""
        if found[0] is None or order.index(why) > order.index(found[1]):
            found = (one, why)
    return found
