# ruff: noqa: RUF009  (a fact is declared by a call that returns a dataclass field)
"""What is known of one fracture on one day: the only thing that rules look at.

None is "not recorded" and never "no"; a value that was deliberately left empty
("not known", "not done") is None too. Units are in the names; codes are those
of register.domain.vocabulary. An empty tuple is an answer ("takes none"), None
is not.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Any, Final, Self

from register.domain import vocabulary as v
from register.domain.days import day_words, known_words
from register.domain.decimals import exact, trimmed
from register.domain.levels import TREATABLE_CHOICES

Pairs = tuple[tuple[str, str], ...]


class FactKind(StrEnum):
    """How a fact is written down."""

    YES_NO = "yes_no"
    CODE = "code"
    CODES = "codes"
    DRUGS = "drugs"
    WHOLE = "whole"
    NUMBER = "number"
    DAY = "day"


@dataclass(frozen=True, slots=True)
class FactInfo:
    """A fact in words, what provides it, and which values it may take.

    `low` and `high` are the plausible range of a number, within which values are
    tried; what is recorded outside it is taken as recorded. `step` is its usual
    finest step.
    """

    words: str
    provided_by: str
    kind: FactKind
    vocabulary: v.Words = ()
    unit: str = ""
    low: Decimal = Decimal(0)
    high: Decimal = Decimal(0)
    step: Decimal = Decimal(1)


REFERRER: Final = "a question to the referrer or the patient"
EXAMINATION: Final = "an examination"
READING: Final = "a reading of the images at this level"
BLOOD: Final = "a blood test"


def _fact(words: str, by: str, kind: FactKind, **more: Any) -> Any:
    return field(default=None, metadata={"info": FactInfo(words, by, kind, **more)})


def _yes_no(words: str, by: str) -> Any:
    return _fact(words, by, FactKind.YES_NO)


def _code(words: str, by: str, vocabulary: v.Words) -> Any:
    return _fact(words, by, FactKind.CODE, vocabulary=vocabulary)


def _number(words: str, by: str, unit: str, low: str, high: str, step: str = "0.1") -> Any:
    limits = {"low": Decimal(low), "high": Decimal(high), "step": Decimal(step)}
    return _fact(words, by, FactKind.NUMBER, unit=unit, **limits)


def _whole(words: str, by: str, unit: str, low: int, high: int) -> Any:
    limits = {"low": Decimal(low), "high": Decimal(high)}
    return _fact(words, by, FactKind.WHOLE, unit=unit, **limits)


@dataclass(frozen=True)
class CaseFacts:
    """Everything a rule may ask about one fracture, as known on the day `as_of`."""

    as_of: date

    # the person and the fracture
    age_years: int | None = _whole("age", REFERRER, "years", 0, 120)
    sex: str | None = _code("sex", REFERRER, v.SEX)
    level: str | None = _code("level", READING, tuple(TREATABLE_CHOICES))
    onset_on: date | None = _fact("day of onset", REFERRER, FactKind.DAY)
    onset_precision: str | None = _code(
        "how exactly the onset is known", REFERRER, v.DATE_PRECISION
    )
    cause: str | None = _code("cause as judged", "the clinician in charge", v.FRACTURE_CAUSE)
    mechanism: str | None = _code("mechanism of injury", REFERRER, v.MECHANISM)

    # pain
    pain_moving: int | None = _whole("pain on movement", REFERRER, "of 10", 0, 10)
    pain_trend: str | None = _code("course of the pain", REFERRER, v.PAIN_TREND)
    tender: bool | None = _yes_no("tenderness at the level", EXAMINATION)
    matches_imaging: bool | None = _yes_no(
        "whether the point of greatest pain matches the image", EXAMINATION
    )
    analgesia_optimal: bool | None = _yes_no("whether analgesia is optimal", REFERRER)
    failure_criteria: tuple[str, ...] | None = _fact(
        "signs that conservative care fails",
        REFERRER,
        FactKind.CODES,
        vocabulary=v.FAILURE_CRITERION,
    )

    # healing
    oedema: str | None = _code("oedema on MRI", "an MRI with a fat-suppressed sequence", v.OEDEMA)
    no_mri_reason: str | None = _code("why MRI is not possible", REFERRER, v.NO_MRI_REASON)
    mri_equivalent: str | None = _code("examination in place of MRI", REFERRER, v.MODALITY)
    equivalent_fresh: bool | None = _yes_no(
        "whether the examination in place of MRI shows a fresh fracture",
        "a bone scan or SPECT-CT",
    )

    # neurology, canal, stability
    neurology: str | None = _code("neurological grade", "a neurological examination", v.NEUROLOGY)
    epidural_grade: str | None = _code("epidural compression grade", READING, v.EPIDURAL_GRADE)
    posterior_wall: str | None = _code("posterior wall", READING, v.POSTERIOR_WALL)
    retropulsion_mm: Decimal | None = _number("retropulsion", READING, "mm", "0", "30")
    canal_percent: int | None = _whole("share of the canal taken up", READING, "%", 0, 100)
    tension_band: str | None = _code("posterior tension band", READING, v.TENSION_BAND)
    translation: bool | None = _yes_no("translation or rotation", READING)
    height_loss_percent: Decimal | None = _number(
        "height loss", "heights measured at this level", "%", "-50", "100"
    )

    # infection
    infection_state: str | None = _code("infection", REFERRER, v.INFECTION_STATE)
    infection_signs: tuple[str, ...] | None = _fact(
        "signs of infection", REFERRER, FactKind.CODES, vocabulary=v.INFECTION_SIGN
    )
    disc_centred: bool | None = _yes_no("change centred on the disc", READING)
    crp_mg_l: Decimal | None = _number("C-reactive protein", BLOOD, "mg/L", "0", "600")

    # tumour
    cancer_history: str | None = _code("previous cancer", REFERRER, v.CANCER_HISTORY)
    convex_posterior_border: bool | None = _yes_no("convex posterior border", READING)
    pedicle_signal: bool | None = _yes_no("abnormal pedicle signal", READING)
    posterior_element_signal: bool | None = _yes_no("abnormal posterior element signal", READING)
    epidural_mass: bool | None = _yes_no("epidural mass", READING)
    paraspinal_mass: bool | None = _yes_no("paraspinal mass", READING)
    other_lesions: bool | None = _yes_no("other lesions", READING)
    end_plates: str | None = _code("end plates that gave way", READING, v.END_PLATE)
    t_score: Decimal | None = _number("T-score", "a bone density scan", "", "-8", "8")
    attenuation_hu: int | None = _whole("L1 attenuation", "a CT", "HU", -200, 1000)

    # bleeding
    inr: Decimal | None = _number("INR", "a clotting test", "", "0.5", "20")
    platelets_10e9_l: Decimal | None = _number(
        "platelets", "a blood count", "×10⁹/L", "0", "2000", "1"
    )
    antithrombotics: Pairs | None = _fact(
        "antithrombotic drugs with their indication", REFERRER, FactKind.DRUGS
    )

    # body, team, session
    pregnancy: str | None = _code("pregnancy", "a pregnancy test", v.PREGNANCY)
    allergy_to_cement: bool | None = _yes_no("allergy to acrylic cement", REFERRER)
    allergy_to_contrast: bool | None = _yes_no("allergy to contrast", REFERRER)
    levels_planned: int | None = _whole(
        "levels planned for the session", "the plan", "levels", 1, 12
    )
    team_reviewed: bool | None = _yes_no("whether the team has discussed it", "a team meeting")
    bone_plan: bool | None = _yes_no("a plan for bone health", "the referrer or the clinic")

    # fact name -> day of the observation; a fact without a day has none here
    dates: Mapping[str, date] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Drop zeros that a column adds: 220.00 is read as 220, and 1.60 as 1.6."""
        for name, step in _STEPS.items():
            value = getattr(self, name)
            if value is not None:
                object.__setattr__(self, name, trimmed(value, step))

    def said(self, name: str) -> str:
        """Return one fact in words; the onset no finer than it is known."""
        if name == "onset_on":
            return known_words(self.onset_on, self.onset_precision or "")
        return words_of(name, getattr(self, name))

    def as_json(self) -> dict[str, Any]:
        """Return the recorded facts as plain JSON; what is not recorded is left out."""
        known = {name: getattr(self, name) for name in FACT_NAMES}
        return {
            "as_of": self.as_of.isoformat(),
            "facts": {n: _plain(value) for n, value in known.items() if value is not None},
            "dates": {name: day.isoformat() for name, day in sorted(self.dates.items())},
        }

    @classmethod
    def from_json(cls, stored: Mapping[str, Any]) -> Self:
        """Read back what `as_json` wrote. Raises ValueError for an unknown fact or value."""
        unknown = set(stored["facts"]) - set(FACT_NAMES)
        if unknown:
            raise ValueError(f"Not a fact of a case: {', '.join(sorted(unknown))}.")
        return cls(
            as_of=date.fromisoformat(stored["as_of"]),
            dates={n: date.fromisoformat(day) for n, day in stored.get("dates", {}).items()},
            **{name: read_fact(name, value) for name, value in stored["facts"].items()},
        )


FACT_NAMES: Final = tuple(f.name for f in fields(CaseFacts) if "info" in f.metadata)
# What a rule may name as an input: every fact, and the day itself.
INPUT_NAMES: Final = ("as_of", *FACT_NAMES)


_INFO: Final[dict[str, FactInfo]] = {
    f.name: f.metadata["info"] for f in fields(CaseFacts) if "info" in f.metadata
}


_STEPS: Final = {n: info.step for n, info in _INFO.items() if info.kind is FactKind.NUMBER}


def fact_info(name: str) -> FactInfo:
    """Return what is known of a fact by name. Raises KeyError for an unknown one."""
    return _INFO[name]


def words_of(name: str, value: Any) -> str:
    """Return one fact's value as people read it, exactly as recorded, with its unit."""
    info = fact_info(name)
    if value is None:
        return "not recorded"
    if info.kind is FactKind.YES_NO:
        return "yes" if value else "no"
    if info.kind is FactKind.CODE:
        return v.words_for(info.vocabulary, value)
    if info.kind is FactKind.CODES:
        return ", ".join(v.words_for(info.vocabulary, code) for code in value) or "none"
    if info.kind is FactKind.DRUGS:
        return ", ".join(drug_words(drug, use) for drug, use in value) or "none"
    if info.kind is FactKind.DAY:
        return day_words(value)
    return f"{value} {info.unit}".strip()


def drug_words(drug: str, indication: str) -> str:
    """Return a drug with what it is taken for."""
    use = v.words_for(v.ANTITHROMBOTIC_INDICATION, indication) if indication else ""
    return f"{v.words_for(v.ANTITHROMBOTIC, drug)} for {use or 'a reason not recorded'}"


def read_fact(name: str, value: Any) -> Any:
    """Return a fact's value from plain JSON. Raises ValueError when it cannot be one."""
    info = fact_info(name)
    if value is None:
        return None
    if info.kind is FactKind.CODE:
        return _known(name, value, info.vocabulary)
    if info.kind is FactKind.CODES:
        return tuple(_known(name, code, info.vocabulary) for code in value)
    if info.kind is FactKind.DRUGS:
        return tuple(_drug(name, *pair) for pair in value)
    if info.kind is FactKind.DAY:
        return date.fromisoformat(value)
    if info.kind is FactKind.YES_NO:
        if not isinstance(value, bool):
            raise ValueError(f"{name} is yes or no, not {value!r}.")
        return value
    return _number_read(name, value, info)


def _number_read(name: str, value: Any, info: FactInfo) -> int | Decimal:
    number = exact(value, name)
    if info.kind is FactKind.NUMBER:
        return number
    if number != int(number):
        raise ValueError(f"{name} is a whole number, not {value!r}.")
    return int(number)


def _known(name: str, code: Any, vocabulary: v.Words) -> str:
    if code not in v.codes(vocabulary):
        raise ValueError(f"{name} has no code {code!r}.")
    return str(code)


def _drug(name: str, drug: str, indication: str) -> tuple[str, str]:
    use = _known(name, indication, v.ANTITHROMBOTIC_INDICATION) if indication else ""
    return _known(name, drug, v.ANTITHROMBOTIC), use


def _plain(value: Any) -> Any:
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return value
