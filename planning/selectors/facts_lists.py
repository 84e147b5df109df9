"""The facts of one fracture as lists for people; nothing is left empty."""

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Any, NamedTuple

from planning.evidence import Evidence
from planning.heights import Loss, fracture_measured, loss_of
from planning.rules.facts import CaseFacts, fact_info
from register.domain.days import day_words, known_words
from register.domain.levels import in_words
from register.domain.measures import biconcave_ratio, wedge_angle_deg, wedge_ratio
from register.domain.measuring.error import Value
from register.domain.measuring.volume import marked_volume
from register.domain.vocabulary import (
    ABSENT,
    ANALGESIC_STEP,
    ASA,
    CALIBRATION,
    COUNTED_FROM,
    FRACTURE_CAUSE,
    HEIGHT_METHOD,
    MOBILITY,
    POSTURE,
    TRANSITIONAL,
    words_for,
)

_REASONS = dict(ABSENT)
_TESTS = {"inr": "inr", "platelets_10e9_l": "platelets", "crp_mg_l": "crp"}
_ERROR_WORDS = "± is the 95 % interval that comes from placing the marks"
_NO_VALUE = {"not recorded", "not measured", "no scale on the image", *_REASONS.values()}


class Fact(NamedTuple):
    """One fact in words: its name, its value or why there is none, and a note such as the day."""

    name: str
    value: str
    note: str = ""

    @property
    def is_missing(self) -> bool:
        """Whether the value says why there is none."""
        return self.value in _NO_VALUE


Facts = list[Fact]


def level_facts(evidence: Evidence) -> Facts:
    """Which vertebra this is, how it was counted, when it broke, why."""
    fracture = evidence.fracture
    onset = known_words(fracture.onset_on, fracture.onset_precision)
    if fracture.onset_on is None:
        onset = _why(fracture, "onset_on")
    cause = words_for(FRACTURE_CAUSE, fracture.cause) if fracture.cause else ""
    return [
        Fact("Level", in_words(fracture.level), _counted(evidence)),
        Fact("Onset", onset),
        Fact("Cause", cause or _why(fracture, "cause")),
        Fact("State", fracture.get_state_display()),
    ]


def _counted(evidence: Evidence) -> str:
    """How the level was counted on the newest images that say so; a wrong level starts here."""
    for reading in evidence.readings:
        study = reading.study
        if study.counted_from:
            told = f"counted {words_for(COUNTED_FROM, study.counted_from)}"
            if study.transitional not in ("", "no"):
                told += f"; transitional vertebra: {words_for(TRANSITIONAL, study.transitional)}"
            return f"{told} ({study})"
    return "how it was counted is not recorded"


def shape_facts(evidence: Evidence) -> Facts:
    """Heights, what was lost, and the angle, with posture, method and day."""
    found = fracture_measured(evidence)
    if found is None:
        return [Fact("Heights", "not measured")]
    m = found.measurement
    heights = [
        _length("Anterior height", m, "anterior_height_mm"),
        _length("Middle height", m, "middle_height_mm"),
        _length("Posterior height", m, "posterior_height_mm"),
        _length("Depth", m, "depth_mm"),
    ]
    posture = words_for(POSTURE, m.posture) if m.posture else _why(m, "posture")
    method = words_for(HEIGHT_METHOD, m.method) if m.method else _why(m, "method")
    scale = words_for(CALIBRATION, m.calibration) if m.calibration else _why(m, "calibration")
    taken = f"{found.reading.study}; {m.observer}"
    return [
        *heights,
        *_ratios(m),
        *_loss(evidence),
        _angle(m),
        *_other_angles(m),
        *_volume(m),
        Fact("Posture", posture),
        Fact("Measured by", method, taken),
        Fact("Scale", scale, _ERROR_WORDS if m.plus_minus else ""),
    ]


def _loss(evidence: Evidence) -> Facts:
    found = loss_of(evidence)
    if found is None:
        return [Fact("Height loss", "not known", "no intact level was measured on the same images")]
    against = " and ".join(found.reference.levels)
    percent = found.percent.quantize(Decimal("0.1"))
    words = f"{percent} %, {found.loss.place} ({found.loss.shape})"
    return [
        Fact("Height loss", words, f"{_lost_mm(found)}against {against}, same images"),
        Fact("Grade", f"{found.grade} of 3", "semiquantitative, from the largest loss"),
    ]


def _lost_mm(found: Loss) -> str:
    """Return how many mm the height that lost most has lost, as the beginning of a note."""
    place = found.loss.place
    expected, measured = found.reference.heights.at(place), found.measured.heights.at(place)
    if expected is None or measured is None:
        return ""
    return f"{(expected - measured).quantize(Decimal('0.1'))} mm "


def _ratios(m: Any) -> Facts:
    """Anterior and middle height over the posterior one, where they were measured."""
    posterior = m.posterior_height_mm
    told = [
        f"{name} {ratio(part, posterior).quantize(Decimal('0.1'))} %"
        for name, ratio, part in (
            ("wedge", wedge_ratio, m.anterior_height_mm),
            ("biconcavity", biconcave_ratio, m.middle_height_mm),
        )
        if part and posterior
    ]
    return [Fact("Ratios", ", ".join(told), "to the posterior height")] if told else []


def _volume(m: Any) -> Facts:
    """The volume of the body, where depth, width and all three heights were measured."""
    names = ("anterior_height_mm", "middle_height_mm", "posterior_height_mm")
    width, depth, *heights = (_value(m, name) for name in ("width_mm", "depth_mm", *names))
    found = marked_volume(width, depth, heights)
    if found is None:
        return []
    error = f" ±{found.error_ml:.1f}" if found.error_ml is not None else ""
    made_of = (
        f"{m.width_mm} mm wide, {m.depth_mm} mm deep, {found.height_mm:.1f} mm high on average"
    )
    note = f"elliptical cylinder {made_of}; larger than the body, no volume to fill"
    return [Fact("Body volume", f"{found.volume_ml:.1f}{error} ml", note)]


def _value(m: Any, name: str) -> Value:
    number, error = getattr(m, name), m.plus_minus.get(name)
    return Value(None if number is None else float(number), None if error is None else float(error))


def _angle(m: Any) -> Fact:
    if m.vertebral_angle_deg is not None:
        return _measured_angle(m, "Wedge angle", "vertebral")
    sides = (m.anterior_height_mm, m.posterior_height_mm, m.depth_mm)
    if None in sides:
        return Fact("Wedge angle", "not measured")
    return Fact("Wedge angle", f"{wedge_angle_deg(*sides)}°", "estimated from heights and depth")


def _other_angles(m: Any) -> Facts:
    """The angles over more than one body, where they were measured."""
    return [
        _measured_angle(m, f"{name.capitalize()} angle", name)
        for name in ("local", "segmental", "regional")
        if getattr(m, f"{name}_angle_deg") is not None
    ]


def _measured_angle(m: Any, words: str, name: str) -> Fact:
    """Return an angle with the end plates it lies between; typed ones name theirs for all."""
    named = dict(part.split(": ", 1) for part in m.angle_end_plates.split("; ") if ": " in part)
    plates = named.get(name, "" if named else m.angle_end_plates)
    field = f"{name}_angle_deg"
    note = "; ".join(filter(None, [plates, _odd(m, field)]))
    return Fact(words, _with_error(m, field, "°"), note)


def image_facts(facts: CaseFacts, evidence: Evidence) -> Facts:
    """What was read on the images of this level."""
    names = ("oedema", "end_plates", "posterior_wall", "retropulsion_mm", "canal_percent",
             "epidural_grade", "tension_band", "disc_centred", "convex_posterior_border",
             "pedicle_signal", "posterior_element_signal", "epidural_mass", "paraspinal_mass",
             "other_lesions")  # fmt: skip
    return _named(facts, evidence, names)


def complaint_facts(facts: CaseFacts, evidence: Evidence) -> Facts:
    """Pain, what was tried, and the nerves."""
    newest = evidence.referral
    at_rest = next((r.pain_rest for r in evidence.referrals if r.pain_rest is not None), None)
    return [
        *_named(facts, evidence, ("pain_moving",)),
        Fact("Pain at rest", "not recorded" if at_rest is None else f"{at_rest} of 10"),
        *_named(facts, evidence, ("pain_trend", "tender", "matches_imaging")),
        Fact("Analgesia", _code(newest, "analgesic_step", ANALGESIC_STEP)),
        *_named(facts, evidence, ("analgesia_optimal", "failure_criteria")),
        Fact("Mobility", _code(newest, "mobility", MOBILITY)),
        *_named(
            facts, evidence, ("neurology", "infection_state", "infection_signs", "cancer_history")
        ),
    ]


def body_facts(facts: CaseFacts, evidence: Evidence) -> Facts:
    """What matters for needle, cement and anaesthesia."""
    return [
        *_named(facts, evidence, ("antithrombotics", "inr", "platelets_10e9_l", "crp_mg_l")),
        *_named(
            facts,
            evidence,
            ("t_score", "attenuation_hu", "allergy_to_cement", "allergy_to_contrast"),
        ),
        Fact("ASA grade", _code(evidence.referral, "asa_grade", ASA)),
    ]


# --- words ------------------------------------------------------------------


def _named(facts: CaseFacts, evidence: Evidence, names: Iterable[str]) -> Facts:
    return [
        Fact(
            _capital(fact_info(name).words),
            facts.said(name),
            "; ".join(filter(None, [_day(facts.dates.get(name)), _odd_of(evidence, name)])),
        )
        for name in names
    ]


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]


def _day(day: date | None) -> str:
    return day_words(day) if day else ""


def _code(record: Any, name: str, vocabulary: Any) -> str:
    if record is None:
        return "not recorded"
    value = getattr(record, name)
    return words_for(vocabulary, value) if value else _why(record, name)


def _length(words: str, m: Any, name: str) -> Fact:
    value = getattr(m, name)
    if value is None:
        otherwise = "no scale on the image" if m.calibration == "none" else "not measured"
        return Fact(words, _why(m, name, otherwise))
    return Fact(words, _with_error(m, name, " mm"), _odd(m, name))


def _with_error(m: Any, name: str, unit: str) -> str:
    """Return a measured number, with the ± of its 95 % interval where that is known."""
    error = m.plus_minus.get(name)
    return f"{getattr(m, name)}{f' ±{error}' if error else ''}{unit}"


def _odd(record: Any, name: str) -> str:
    """Return what was said of an unusual value; "" of a usual one."""
    reason = record.unusual.get(name, "")
    return f"unusual: {reason}" if reason else ""


def _odd_of(evidence: Evidence, name: str) -> str:
    """Return what was said of the value that a fact was taken from."""
    code = _TESTS.get(name)
    if code is not None:
        newest = next((row for row in evidence.laboratory if row.analyte == code), None)
        return _odd(newest, "value") if newest else ""
    for row in (*evidence.referrals, *evidence.readings, *evidence.densities):
        if getattr(row, name, None) is not None:
            return _odd(row, name)
    return ""


def _why(record: Any, name: str, otherwise: str = "not recorded") -> str:
    return _REASONS.get(record.absent.get(name, ""), otherwise)
