"""What is published on reaching the midline from one side."""

from typing import Final

SOURCE: Final = (
    "simulated on MRI of 200 adults (BMC Musculoskelet Disord 2015, s12891-015-0619-x, "
    "abstract read)"
)
# Published and read in that abstract: success by level between both ends, worst at L1 and L2.
_LOWEST, _HIGHEST = "69.5", "98.0"
_WORST: Final = ("L1", "L2")
_KNOWN: Final = {"L3": "95.5", "L4": "98.0"}


def one_sided_prompt(level: str, planned_sides: str) -> str:
    """Return what to consider for a needle from one side only; blank when there is nothing.

    `planned_sides` is the side of the plan: left, right, both, midline or ''. Speaks only
    where the study says something about the level. A prompt, never a refusal.
    """
    if planned_sides not in ("left", "right"):
        return ""
    if level in _WORST:
        return (
            f"One side at {level}: a needle from one side is less likely to cross the midline at "
            f"L1 and L2 than lower down; by level it did in {_LOWEST} to {_HIGHEST} %, {SOURCE}. "
            "Sex and side matter."
        )
    if level in _KNOWN:
        return (
            f"One side at {level}: a needle from one side reached the midline in "
            f"{_KNOWN[level]} %, {SOURCE}."
        )
    return ""
