"""The drawings of a patient: the strip of the whole spine, and one vertebra close up."""

from collections.abc import Iterable, Sequence
from datetime import date

from planning.evidence import Evidence
from planning.heights import MeasuredLevel, fracture_measured, loss_of, measured_levels, same_study
from planning.selectors.waiting_rows import clock_face
from register.domain.days import day_words
from register.domain.drawing.closeup import Closeup
from register.domain.drawing.strip import Strip, StripLevel
from register.domain.drawing.vertebra import Body
from register.domain.levels import TREATABLE_CODES, above, below
from register.domain.outline import Heights
from register.models import Fracture, Reading
from register.templatetags.drawings import heights_of

# What a state looks like; the order decides which fracture of a level the strip shows.
_LOOK = {
    "waiting": "fracture",
    "listed": "fracture",
    "conservative": "fracture",
    "transferred": "fracture",
    "treated": "treated",
    "old": "old",
    "closed": "old",
}


def by_weight(fractures: Iterable[Fracture]) -> list[Fracture]:
    """Return the fractures with those that still wait first, newest first among equals."""
    places = list(_LOOK)
    return sorted(fractures, key=lambda f: (places.index(f.state), -f.pk))


def spine_strip(
    fractures: Sequence[Fracture],
    readings: Iterable[Reading],
    *,
    current: Fracture | None,
    on: date,
    window_days: int,
    url: str,
) -> Strip:
    """Return T1 to L5 with everything measured or broken; each fracture is a link."""
    shown: dict[str, Fracture] = {}
    for fracture in by_weight(fractures):
        shown.setdefault(fracture.level, fracture)
    if current is not None:
        shown[current.level] = current
    measured = measured_levels(readings)
    return Strip.of(
        _strip_level(
            level,
            shown.get(level),
            measured.get(level),
            count=sum(f.level == level for f in fractures),
            is_current=current is not None and level == current.level,
            on=on,
            window_days=window_days,
            url=url,
        )
        for level in TREATABLE_CODES
        if level in shown or level in measured
    )


def _strip_level(
    level: str,
    fracture: Fracture | None,
    measured: MeasuredLevel | None,
    *,
    count: int,
    is_current: bool,
    on: date,
    window_days: int,
    url: str,
) -> StripLevel:
    body = _body(level, measured, _LOOK[fracture.state] if fracture else "")
    if fracture is None:
        day = measured.reading.study.performed_on if measured else None
        return StripLevel(body, f"measured {day_words(day)}")
    words = fracture_words(fracture, on, window_days)
    if count > 1:
        words += f", {count} in all"
    return StripLevel(body, words, f"{url}?fracture={fracture.pk}", is_current)


def fracture_words(fracture: Fracture, on: date, window_days: int) -> str:
    """Return what a fracture is, in a few words: "fracture, day 26", "treated"."""
    short = {
        "conservative": "conservative care",
        "transferred": "passed on",
        "treated": "treated",
        "old": "old fracture",
        "closed": "closed",
    }
    if fracture.state in short:
        return short[fracture.state]
    return f"fracture, {clock_face(fracture, on, window_days).day_words}"


def closeup_of(evidence: Evidence) -> Closeup:
    """Return the fracture between its neighbours, from one examination wherever possible."""
    fracture = evidence.fracture
    own = fracture_measured(evidence)
    others = measured_levels(evidence.patient_readings) | (same_study(evidence, own) if own else {})
    loss = loss_of(evidence)
    looks = {f.level: _LOOK[f.state] for f in reversed(by_weight(evidence.patient_fractures))}
    end_plates = next((r.end_plates for r in evidence.readings if r.end_plates), "")
    reference = loss.reference.heights if loss else None
    return Closeup(
        body=_body(fracture.level, own, _LOOK[fracture.state], end_plates),
        above=_neighbour(above(fracture.level), others, looks),
        below=_neighbour(below(fracture.level), others, looks),
        expected=Heights(reference.anterior, reference.middle, reference.posterior)
        if reference
        else None,
        expected_from=" and ".join(loss.reference.levels) if loss else "",
    )


def _neighbour(
    level: str | None, measured: dict[str, MeasuredLevel], looks: dict[str, str]
) -> Body | None:
    if level is None:
        return None
    return _body(level, measured.get(level), looks.get(level, ""))


def _body(level: str, measured: MeasuredLevel | None, state: str, end_plates: str = "") -> Body:
    if measured is None:
        return Body(level, state=state, gave_way=end_plates)
    return Body(
        level,
        heights_of(measured.measurement),
        end_plates or measured.reading.end_plates,
        state,
        measured.measurement.tilt_angle_deg,
    )
