"""What marks say beside the fields of a measurement: ratios, loss and grade, also without mm."""

from typing import Final

from register.domain.measuring.error import Value
from register.domain.measuring.measure import Measured, measure
from register.domain.measuring.points import marks_of
from register.models import Marking
from register.selectors.images import spacing_of_frame
from register.selectors.imaging import fractured_levels

_RATIOS: Final = {
    "wedge_percent": "anterior over posterior height",
    "biconcave_percent": "middle over posterior height",
    "crush_above_percent": "posterior height over that above",
    "crush_below_percent": "posterior height over that below",
}
_PLACES: Final = {"anterior": "at the front", "middle": "in the middle", "posterior": "at the back"}


def marked_lines(marking: Marking, level: str) -> list[str]:
    """Return the ratios of a level and what it has lost, in sentences; none without the marks.

    The ± is that of the day of marking. Loss and reference are taken against the levels
    that are intact as the register knows them now.
    """
    if marking.view != "lateral":
        return []
    found = measure(
        marks_of(marking.marks, marking.view),
        spacing_of_frame(marking.frame),
        float(marking.point_error_mm or 0),
        not_intact=fractured_levels(marking.reading.study.patient),
    ).get(level)
    if found is None:
        return []
    ratios = [
        f"{words[0].upper()}{words[1:]}: {_percent(found.values[name])}."
        for name, words in _RATIOS.items()
        if name in found.values and found.values[name].value is not None
    ]
    return ratios + _loss(found)


def _loss(found: Measured) -> list[str]:
    place = found.most_lost
    if not place:
        return []
    share = _percent(found.values[f"{place}_loss_percent"])
    grade = "" if found.grade is None else f", grade {found.grade}"
    levels = " and ".join(found.reference_levels)
    return [
        f"Height lost {_PLACES[place]}: {share} ({found.shape}{grade}), compared with {levels}."
    ]


def _percent(value: Value) -> str:
    if value.value is None:
        return "not defined"
    return f"{value.value:.0f}" + (f" ± {value.error:.0f} %" if value.error else " %")
