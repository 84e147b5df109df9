"""The theatre list as it is printed: one frozen object for page and PDF.

Built from rows that were already read; nothing here asks the database.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from planning.approach_words import needle_words
from planning.models import ListEntry, PlannedLevel, TheatreSession
from register.domain.levels import in_words
from register.domain.names import similar_names
from register.models import Measurement


@dataclass(frozen=True, slots=True)
class LevelLine:
    """One level of a case, with side in words and the heights for its drawing (mm or None)."""

    level: str
    level_words: str
    side: str
    approach: str
    biopsy: str
    cement: str
    implants: str
    needles: tuple[str, ...]
    measurement: Measurement | None


@dataclass(frozen=True, slots=True)
class CaseLine:
    """One case: who, what, how long, and what must not be overlooked."""

    place: int
    starts_at: time
    minutes: int
    state: str
    entry: ListEntry
    family_name: str
    given_name: str
    born_on: date
    sex: str
    nhs_number: str
    hospital_number: str
    technique: str
    new_here: bool
    anaesthesia: str
    allergies: str
    cautions: tuple[str, ...]
    drugs: tuple[str, ...]
    drugs_note: str
    levels: tuple[LevelLine, ...]
    is_similar: bool


@dataclass(frozen=True, slots=True)
class TheatreList:
    """A session with its cases in order, minutes and kit."""

    session: TheatreSession
    cases: tuple[CaseLine, ...]
    minutes_planned: int
    kit: tuple[tuple[str, int], ...]

    @property
    def has_needles(self) -> bool:
        """Whether the way of a needle is planned in numbers."""
        return any(level.needles for case in self.cases for level in case.levels)

    @property
    def minutes_left(self) -> int:
        """Minutes still free; negative when the list is longer than the session."""
        return self.session.minutes - self.minutes_planned

    @property
    def minutes_over(self) -> int:
        """Minutes by which the list is longer than the session; 0 when it fits."""
        return max(0, -self.minutes_left)


def build(
    session: TheatreSession,
    entries: Sequence[ListEntry],
    measurements: dict[int, Measurement],
) -> TheatreList:
    """Put the planned and done cases in order and add up minutes and kit.

    `entries` come with plan, patient, referral rows, planned levels and their live
    approaches already read; `measurements` maps a fracture's key to its newest measurement.
    """
    shown = [entry for entry in entries if entry.state != "cancelled"]
    similar = _similar(shown)
    clock = datetime.combine(session.held_on, session.starts_at)
    cases = []
    for place, entry in enumerate(shown, start=1):
        cases.append(_case(place, clock.time(), entry, measurements, similar))
        clock += timedelta(minutes=entry.minutes)
    return TheatreList(
        session=session,
        cases=tuple(cases),
        minutes_planned=sum(entry.minutes for entry in shown),
        kit=tuple(sorted(_kit(shown).items())),
    )


def _levels(entry: ListEntry) -> list[PlannedLevel]:
    return [level for level in entry.plan.levels.all() if level.voided_at is None]


def _similar(entries: Sequence[ListEntry]) -> set[int]:
    """Ids of patients of one list whose names can be mistaken for each other."""
    people = {entry.plan.patient_id: entry.plan.patient for entry in entries}
    return similar_names((pk, p.family_name, p.given_name) for pk, p in people.items())


def _case(
    place: int,
    starts_at: time,
    entry: ListEntry,
    measurements: dict[int, Measurement],
    similar: set[int],
) -> CaseLine:
    plan, patient = entry.plan, entry.plan.patient
    levels = _levels(entry)
    referrals = [level.fracture.referral for level in levels if level.fracture.referral]
    return CaseLine(
        place=place,
        starts_at=starts_at,
        minutes=entry.minutes,
        state=entry.get_state_display(),
        entry=entry,
        family_name=patient.family_name,
        given_name=patient.given_name,
        born_on=patient.date_of_birth,
        sex=patient.get_sex_display() or "sex not recorded",
        nhs_number=patient.nhs_number,
        hospital_number=patient.hospital_number,
        technique=plan.technique.name,
        new_here=plan.technique.is_new_here,
        anaesthesia=plan.get_anaesthesia_display() or "not recorded",
        allergies=_allergies(referrals),
        cautions=_cautions(referrals),
        drugs=_drugs(referrals),
        drugs_note=plan.drugs_note,
        levels=tuple(_level(level, measurements) for level in levels),
        is_similar=patient.pk in similar,
    )


def _level(level: PlannedLevel, measurements: dict[int, Measurement]) -> LevelLine:
    count = level.implant_count
    size = level.implant_size_label or "size not chosen"
    biopsy = {True: "yes", False: "no", None: "not recorded"}[level.biopsy]
    return LevelLine(
        level=level.fracture.level,
        level_words=in_words(level.fracture.level),
        side=level.get_side_display().upper() or "SIDE NOT RECORDED",
        approach=level.get_approach_display() or "approach not recorded",
        biopsy=biopsy,
        cement=f"{level.cement_ml} mL" if level.cement_ml is not None else "not planned in mL",
        implants=f"{count} × {size}" if count else "none planned",
        needles=tuple(filter(None, (needle_words(row) for row in level.approaches.all()))),
        measurement=measurements.get(level.fracture_id),
    )


def _allergies(referrals: Iterable[object]) -> str:
    """Every allergy named; "not recorded" where nobody asked, never "none"."""
    named = {text for text in (getattr(r, "allergies", "") for r in referrals) if text}
    return "; ".join(sorted(named)) or "not recorded"


def _cautions(referrals: Sequence[object]) -> tuple[str, ...]:
    found: dict[str, None] = {}
    for referral in referrals:
        for field, words in (
            ("allergy_to_cement", "allergy to cement"),
            ("allergy_to_contrast", "allergy to contrast medium"),
            ("allergy_to_latex", "latex allergy"),
        ):
            if getattr(referral, field):
                found[words] = None
        if getattr(referral, "resistant_organism", ""):
            found[f"carries {referral.resistant_organism}"] = None  # type: ignore[attr-defined]
        if getattr(referral, "can_lie_prone", None) is False:
            found["cannot lie on the front"] = None
    return tuple(found)


def _drugs(referrals: Sequence[object]) -> tuple[str, ...]:
    """Antithrombotic drugs by name. No stop date: dates come only from an approved table."""
    names: dict[str, None] = {}
    asked = False
    for referral in referrals:
        asked = asked or getattr(referral, "takes_antithrombotics", None) is not None
        for drug in referral.drugs.all():  # type: ignore[attr-defined]
            if drug.voided_at is None:
                indication = drug.get_indication_display() or "indication not recorded"
                names[f"{drug.get_drug_display()} ({indication})"] = None
    if names:
        return tuple(names)
    return ("none",) if asked else ("not recorded",)


def _kit(entries: Sequence[ListEntry]) -> Counter[str]:
    """What must be on the trolley: implants by size, cement packs, needle and biopsy sets.

    One cement pack for each patient and one needle per side are common practice
    (no source); the count is a start for the people who lay out the kit.
    """
    kit: Counter[str] = Counter()
    for entry in entries:
        kit["cement pack"] += 1
        for level in _levels(entry):
            kit["access needle"] += 2 if level.side == "both" else 1
            if level.implant_count:
                kit[f"implant {level.implant_size_label or 'size not chosen'}"] += (
                    level.implant_count
                )
            if level.biopsy:
                kit["biopsy set"] += 1
            if entry.plan.technique.route == "balloon":
                kit["balloon set"] += 2 if level.side == "both" else 1
    return kit
