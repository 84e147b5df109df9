"""Studies, readings and measurements, before the decision and after the procedure."""

from dataclasses import dataclass, field
from datetime import date, timedelta
from random import Random
from typing import Any, Final

from register.domain.levels import TREATABLE_CODES, above, below, distance, order
from register.domain.vocabulary import LAB_UNIT
from reports.demo import bodies, parameters
from reports.demo.bodies import Body
from reports.demo.book import Book, Row, days, hundredth, leave_out, pick, tenth
from reports.demo.referrals import Broken, Episode

# Signs of a tumour, as read when there is none; "none" is an answer and not a gap.
NO_TUMOUR: Final = {
    "pedicle_signal": False,
    "posterior_element_signal": False,
    "convex_posterior_border": False,
    "epidural_mass": False,
    "paraspinal_mass": False,
    "other_lesions": False,
}
# Shares invented, but: the upper end plate gives way more often (Ortiz, AJNR 2011; published).
END_PLATES: Final = {"superior": 64, "both": 28, "inferior": 4, "none": 4}
OEDEMA: Final = {"band": 44, "partial": 31, "whole": 25}
WALL: Final = {"intact": 64, "under_fifth": 28, "fifth_or_more": 8}
READING_GAPS: Final = {
    "cleft": 0.06,
    "fluid_sign": 0.12,
    "retropulsion_mm": 0.1,
    "tension_band": 0.12,
    "translation": 0.1,
    "other_lesions": 0.02,
    "posterior_wall": 0.02,
}


@dataclass
class Pictures:
    """The bodies of one episode as they are now, level by level."""

    normal: dict[str, Body]
    now: dict[str, Body]
    old: set[str] = field(default_factory=set)
    readers: list[Row] = field(default_factory=list)

    @property
    def broken(self) -> list[str]:
        """The levels that no longer have their normal shape, from above."""
        return [level for level, body in self.now.items() if body != self.normal[level]]


def add_first_studies(
    book: Book,
    rng: Random,
    episode: Episode,
    readers: list[Row],
    *,
    mri: bool = True,
    within_days: int = 3,
    earlier: Pictures | None = None,
) -> Pictures:
    """Write film, MRI and, for some, CT of an episode, and return the bodies.

    MRI and CT follow within some days of the referral.
    `earlier` are the bodies as an earlier episode of the same patient left them.
    """
    pictures = _pictures(rng, episode, readers, earlier)
    day = episode.referred_on
    if rng.random() < 0.8:
        _film(book, rng, episode, pictures, day - timedelta(days=rng.randint(0, 3)))
    if mri:
        _mri(book, rng, episode, pictures, day + timedelta(days=rng.randint(0, within_days)))
    if rng.random() < 0.4:
        _ct(book, rng, episode, pictures, day + timedelta(days=rng.randint(0, within_days)))
    return pictures


def _pictures(
    rng: Random, episode: Episode, readers: list[Row], earlier: Pictures | None
) -> Pictures:
    sex, factor = episode.profile.sex, episode.profile.height_factor
    fresh = {broken.level for broken in episode.broken}
    old = set(earlier.broken if earlier else _old_fracture(rng, episode)) - fresh
    wanted = fresh | old
    for level in fresh:
        wanted |= {near for near in (above(level), below(level)) if near in TREATABLE_CODES}
    normal = {
        level: bodies.intact(level, "male" if sex == "male" else "female", factor)
        for level in sorted((level for level in wanted if level), key=order)
    }
    now = dict(normal)
    for level in old:
        healed = bodies.broken(normal[level], rng.uniform(0.2, 0.42), wedge=True)
        now[level] = earlier.now[level] if earlier else healed
    for broken in episode.broken:
        now[broken.level] = bodies.broken(normal[broken.level], broken.loss, wedge=broken.wedge)
    return Pictures(normal, now, old, readers)


def _old_fracture(rng: Random, episode: Episode) -> list[str]:
    """Draw the level of an old, healed fracture; two in five older patients have one."""
    if episode.cause != "osteoporotic" or rng.random() > parameters.OLD_FRACTURE.value:
        return []
    away = [
        level
        for level in parameters.LEVEL.value
        if all(2 <= distance(level, broken.level) <= 6 for broken in episode.broken)
    ]
    return [rng.choice(away)] if away else []


def _film(book: Book, rng: Random, episode: Episode, pictures: Pictures, on: date) -> None:
    study = book.add(
        "study",
        patient=episode.patient,
        modality="film",
        sequences="lateral and front",
        performed_on=max(on, episode.onset_on),
        **leave_out(rng, {"posture": "standing", "counted_from": "t12_rib"}, {"posture": 0.05}),
    )
    for level in pictures.now:
        reading = _reading(book, rng, episode, pictures, study, level, {})
        _measure(book, rng, episode, pictures, reading, standing=True)


def _mri(book: Book, rng: Random, episode: Episode, pictures: Pictures, on: date) -> None:
    study = book.add(
        "study",
        patient=episode.patient,
        modality="mri",
        sequences="T1, T2, STIR; sagittal and axial",
        performed_on=on,
        posture="supine",
        counted_from=rng.choice(("c2", "sacrum", "t12_rib")),
        transitional="no",
        rib_bearing_bodies=12,
    )
    broken = {b.level: b for b in episode.broken}
    for level in pictures.now:
        healed = level in pictures.old
        seen: dict[str, Any] = {
            "oedema": "none",
            "end_plates": "superior" if healed else "none",
        }
        if level in broken:
            seen = mri_findings(rng, episode.cause, broken[level]) | broken[level].findings
            asked = {n: s for n, s in READING_GAPS.items() if n not in broken[level].findings}
            seen = leave_out(rng, seen, asked, reasons=("not_done", "not_known"))
        reading = _reading(book, rng, episode, pictures, study, level, seen)
        _measure(book, rng, episode, pictures, reading, standing=False)


def mri_findings(rng: Random, cause: str, broken: Broken) -> dict[str, Any]:
    """Draw what MRI shows at a fractured level, by what broke it."""
    wall = pick(rng, WALL if broken.loss < 0.5 else {"intact": 40, "under_fifth": 45,
                                                     "fifth_or_more": 15})  # fmt: skip
    retropulsion = 0.0 if wall == "intact" else rng.uniform(0.5, 4.0)
    seen = {
        "oedema": pick(rng, OEDEMA),
        "end_plates": pick(rng, END_PLATES),
        "cleft": broken.cleft,
        "fluid_sign": rng.random() < 0.14,
        "posterior_wall": wall,
        "retropulsion_mm": tenth(retropulsion),
        "canal_percent": round(retropulsion * 5),
        "epidural_grade": "0",
        "tension_band": "intact",
        "translation": False,
        "disc_centred": False,
        **NO_TUMOUR,
    }
    return seen | _other_cause(rng, cause)


def _other_cause(rng: Random, cause: str) -> dict[str, Any]:
    """What speaks for a tumour or an infection; the lower end plate speaks for the first."""
    if cause == "tumour":
        return {
            "oedema": "whole",
            "end_plates": rng.choice(("inferior", "both", "inferior")),
            "pedicle_signal": True,
            "posterior_element_signal": rng.random() < 0.5,
            "convex_posterior_border": rng.random() < 0.8,
            "epidural_mass": rng.random() < 0.35,
            "paraspinal_mass": rng.random() < 0.3,
            "other_lesions": rng.random() < 0.6,
            "shift_ratio": hundredth(rng.uniform(0.9, 1.25)),
            "quantitative_note": "In and opposed phase, 1.5 T.",
        }
    if cause == "infection":
        return {"oedema": "whole", "end_plates": "both", "disc_centred": True,
                "paraspinal_mass": rng.random() < 0.6}  # fmt: skip
    return {}


def _ct(book: Book, rng: Random, episode: Episode, pictures: Pictures, on: date) -> None:
    study = book.add(
        "study",
        patient=episode.patient,
        modality="ct",
        sequences="1 mm, bone and soft tissue",
        performed_on=on,
        posture="supine",
        counted_from=rng.choice(("c2", "t1_rib", "sacrum")),
        transitional="no",
        rib_bearing_bodies=12,
    )
    for broken in episode.broken:
        seen = bodies.pedicle_widths(broken.level, rng)
        _reading(book, rng, episode, pictures, study, broken.level, seen)


def add_equivalent(book: Book, episode: Episode, readers: list[Row]) -> None:
    """Write the SPECT-CT of a patient who cannot have MRI; it shows a fresh fracture."""
    study = book.add(
        "study",
        patient=episode.patient,
        modality="spect_ct",
        sequences="whole spine",
        performed_on=episode.referred_on,
        posture="supine",
        counted_from="t1_rib",
        report="Intense uptake in the fractured body; low-dose CT without destruction.",
    )
    for broken, fracture in zip(episode.broken, episode.fractures, strict=True):
        book.add(
            "reading",
            study=study,
            level=broken.level,
            fracture=fracture,
            observer=readers[0],
            read_on=study["performed_on"],
            end_plates="superior",
            oedema="whole",
            posterior_wall="intact",
            epidural_grade="0",
            canal_percent=0,
            disc_centred=False,
            tension_band="intact",
            translation=False,
            **NO_TUMOUR,
        )


def add_later_film(book: Book, rng: Random, episode: Episode, pictures: Pictures, on: date) -> None:
    """Write a standing film of the fractured levels and their neighbours after a procedure."""
    _film(book, rng, episode, pictures, on)


def _reading(
    book: Book,
    rng: Random,
    episode: Episode,
    pictures: Pictures,
    study: Row,
    level: str,
    seen: dict[str, Any],
) -> Row:
    fracture = {f["level"]: f for f in episode.fractures}.get(level)
    return book.add(
        "reading",
        study=study,
        level=level,
        fracture=fracture,
        observer=pictures.readers[0] if rng.random() < 0.6 else rng.choice(pictures.readers),
        read_on=study["performed_on"],
        **seen,
    )


def _measure(
    book: Book,
    rng: Random,
    episode: Episode,
    pictures: Pictures,
    reading: Row,
    *,
    standing: bool,
) -> None:
    level = reading["level"]
    body = pictures.now[level]
    is_broken = body != pictures.normal[level]
    if not is_broken and rng.random() < 0.25:
        return
    if is_broken and standing:
        body = bodies.loaded(body)
    fields: dict[str, Any] = {
        "method": rng.choice(("workstation", "workstation", "marked")),
        "posture": "standing" if standing else "supine",
        "calibration": "magnification" if standing else "calibrated",
        **body.fields(rng),
    }
    if is_broken:
        fields["vertebral_angle_deg"] = tenth(rng.gauss(body.wedge_angle_deg, 1.0))
        fields["angle_end_plates"] = f"upper {level} to lower {level}"
    if not standing:
        fields["width_mm"] = bodies.width_mm(level)
    book.add(
        "measurement",
        reading=reading,
        observer=reading["observer"],
        measured_on=reading["read_on"],
        **leave_out(rng, fields, {"middle_height_mm": 0.05, "depth_mm": 0.08, "posture": 0.02}),
    )


def add_blood(
    book: Book,
    rng: Random,
    episode: Episode,
    *,
    crp: float | None = None,
    complete: bool = False,
    within_days: int = 1,
) -> None:
    """Write the blood tests of a referral; those of a patient with an infection are raised."""
    on = episode.referred_on + timedelta(days=min(rng.choice((0, 0, 1)), within_days))
    infected = episode.cause == "infection"
    values = {
        "inr": rng.uniform(2.1, 3.0) if "warfarin" in episode.takes else rng.uniform(0.9, 1.2),
        "platelets": max(110, rng.gauss(260, 60)),
        "haemoglobin": max(84, rng.gauss(124, 13)),
        "crp": rng.uniform(70, 190) if infected else min(rng.expovariate(1 / 3.5) + 1, 9),
        "white_cells": rng.uniform(12, 17) if infected else max(3.5, rng.gauss(7.2, 1.6)),
        "creatinine": max(45, rng.gauss(84, 22)),
        "calcium": rng.gauss(2.36, 0.08),
    }
    if crp is not None:
        values["crp"] = crp
    for analyte, value in values.items():
        gap = 0.04 if analyte in ("inr", "platelets", "crp") else 0.15
        if rng.random() < gap and not complete:
            continue
        add_blood_value(book, episode.patient, analyte, value, on)


def add_blood_value(book: Book, patient: Row, analyte: str, value: float, on: date) -> None:
    """Write one value with as many decimals as a laboratory prints."""
    places = {"inr": 1, "calcium": 2}.get(analyte, 0)
    book.add(
        "laboratoryresult",
        patient=patient,
        analyte=analyte,
        value=hundredth(round(value, places)),
        unit=LAB_UNIT[analyte],
        taken_on=on,
    )


def add_bone_density(book: Book, rng: Random, episode: Episode) -> None:
    """Write the bone density of two in three patients; normal where the bone is."""
    if rng.random() < 0.34:
        return
    normal = episode.cause == "trauma"
    on = episode.referred_on - days(rng.uniform(0, 240))
    if rng.random() < 0.65:
        score = rng.uniform(-0.8, 0.8) if normal else rng.gauss(*parameters.T_SCORE.value)
        fields: dict[str, Any] = {"t_score": tenth(score), "site": "lumbar"}
    else:
        value = rng.uniform(165, 220) if normal else rng.gauss(*parameters.ATTENUATION_HU.value)
        fields = {"attenuation_hu": max(18, round(value)), "attenuation_level": "L1"}
    book.add("bonedensity", patient=episode.patient, measured_on=on, **fields)
