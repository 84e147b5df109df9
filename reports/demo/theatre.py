"""Theatre: sessions, plans, lists, and the record of what was done."""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from random import Random
from typing import Any, Final

from register.domain.levels import region
from reports.demo import bodies, parameters
from reports.demo.book import Book, Row, between, days, log_normal, pick, tenth
from reports.demo.imaging import Pictures
from reports.demo.referrals import Episode
from reports.demo.shelf import Shelf

EVERY_DAYS: Final = 14
SESSION_MINUTES: Final = 240
CHANGEOVER_MINUTES: Final = 15
LEAK_PLACES: Final = {
    "segmental": ("paraspinal", "foraminal", "lung"),
    "cortical": ("paraspinal", "anterior", "needle_track"),
    "basivertebral": ("epidural",),
    "disc": ("upper_disc", "upper_disc", "lower_disc"),
}
# kind, grade, words; weights beside it; all invented.
COMPLICATIONS: Final = (
    (("medical", "II", "Urinary tract infection, antibiotic for three days."), 4),
    (("bleeding", "I", "Haematoma at the puncture, no treatment."), 3),
    (("fracture", "I", "Rib fracture on positioning."), 2),
    (("cement_reaction", "II", "Saturation 91 % for four minutes, oxygen."), 1),
    (("anaesthetic", "I", "Prolonged drowsiness."), 2),
    (("neurology_new", "II", "Root pain on the left, settled on steroids within a week."), 1),
)


@dataclass
class Session:
    """A session with the minutes that are still free."""

    row: Row
    used: int = 0
    entries: int = 0


@dataclass
class Calendar:
    """Every session of the scenario, oldest first, and who operates in it."""

    book: Book
    staff: dict[str, Row]
    today: date
    sessions: list[Session] = field(default_factory=list)

    def open(self, first: date, last: date) -> None:
        """Open a session every second Tuesday from one day to another."""
        day = first + timedelta(days=(1 - first.weekday()) % 7)
        while day <= last:
            operator = "consultant2" if len(self.sessions) % 4 == 3 else "consultant"
            row = self.book.add(
                "theatresession",
                site=self.staff["site"],
                held_on=day,
                starts_at=time(8, 30),
                minutes=SESSION_MINUTES,
                room="Theatre 4",
                consultant=self.staff[operator],
                anaesthetist=True,
                image_intensifiers=1,
                beds=4,
                people="Scrub nurse, radiographer, theatre practitioner",
            )
            self.sessions.append(Session(row))
            day += timedelta(days=EVERY_DAYS)

    def room_for(self, earliest: date, minutes: int, *, last: date) -> Session | None:
        """Return the first session from a day on that still has the minutes; None when full."""
        for session in self.sessions:
            held_on = session.row["held_on"]
            if earliest <= held_on <= last and session.used + minutes <= SESSION_MINUTES:
                return session
        return None


def minutes_for(rng: Random, levels: int) -> int:
    """Draw the minutes of a case with a number of levels."""
    first = between(rng, *parameters.MINUTES_FIRST.value)
    return round(
        first + sum(rng.uniform(*parameters.MINUTES_FURTHER.value) for _ in range(levels - 1))
    )


def add_plan(
    book: Book,
    rng: Random,
    episode: Episode,
    decisions: list[Row],
    technique: Row,
    staff: dict[str, Row],
    *,
    on: date,
    approved: bool = True,
) -> Row:
    """Write a plan with one planned level for each decision."""
    levels = len(decisions)
    further = technique["minutes_per_further_level"] or 15
    expected = (technique["typical_minutes"] or 45) + further * (levels - 1)
    plan = book.add(
        "procedureplan",
        patient=episode.patient,
        technique=technique,
        state="approved" if approved else "draft",
        anaesthesia=_anaesthesia(rng, technique),
        position="prone",
        antibiotic="cefuroxime 1.5 g",
        expected_minutes=expected,
        drugs_note=_drugs_note(episode),
        approved_by=staff["consultant"] if approved else None,
        approved_at=at(on, 16, 30) if approved else None,
    )
    for decision in decisions:
        level = decision["fracture"]["level"]
        implants = technique["route"] == "expandable"
        book.add(
            "plannedlevel",
            plan=plan,
            fracture=decision["fracture"],
            decision=decision,
            side="both",
            approach="transpedicular" if region(level) != "thoracic" else "extrapedicular",
            biopsy=episode.cause in ("tumour", "infection") or rng.random() < 0.1,
            implant_size_label=implant_size(level) if implants else "",
            implant_count=2 if implants else None,
            viscosity="high",
            cement_ml=tenth(2 * parameters.CEMENT_ML.value[region(level)][0]),
        )
    return plan


def list_plan(book: Book, session: Session, plan: Row, *, procedure: Row | None = None) -> Row:
    """Put a plan at the end of a list; done when its procedure is given."""
    session.entries += 1
    entry = book.add(
        "listentry",
        session=session.row,
        plan=plan,
        place=session.entries,
        minutes=plan["expected_minutes"],
        state="done" if procedure else "planned",
        procedure=procedure,
    )
    session.used += plan["expected_minutes"] + CHANGEOVER_MINUTES
    return entry


def add_procedure(
    book: Book,
    rng: Random,
    episode: Episode,
    pictures: Pictures,
    plan: Row,
    session: Session,
    shelf: Shelf,
) -> Row:
    """Write what was done in a session, level by level, and move the bodies."""
    technique, on = plan["technique"], session.row["held_on"]
    operator = session.row["consultant"]
    minutes = minutes_for(rng, len(episode.fractures))
    in_room = datetime.combine(on, session.row["starts_at"]) + timedelta(minutes=session.used)
    needle = in_room + timedelta(minutes=rng.randint(12, 22))
    route = technique["route"]
    median, spread = parameters.FLUOROSCOPY_MIN.value[route]
    levels = len(episode.fractures)
    dose = sum(log_normal(rng, *parameters.DOSE_AREA.value) for _ in range(levels))
    fluoroscopy = max(1.2, rng.gauss(median * levels, spread))
    procedure = book.add(
        "procedure",
        patient=episode.patient,
        technique=technique,
        performed_on=on,
        state="signed",
        operator=operator,
        anaesthesia=plan["anaesthesia"],
        position="prone",
        in_room_at=in_room.time(),
        needle_at=needle.time(),
        ended_at=(needle + timedelta(minutes=minutes - 10)).time(),
        level_check=rng.choice(("counted_sacrum", "counted_rib", "marked")),
        antibiotic=plan["antibiotic"],
        room_temperature_c=tenth(rng.gauss(20.2, 0.8)),
        dose_area_gy_cm2=tenth(dose) if rng.random() > 0.06 else None,
        fluoroscopy_s=round(fluoroscopy * 60) if rng.random() > 0.08 else None,
        lowest_spo2_percent=round(between(rng, 96, 1.5, 92, 100)),
        complication_check="none" if rng.random() > 0.05 else "",
        discharged_on=on + days(min(log_normal(rng, 1.4, 0.8), 20)),
        signed_by=operator,
        signed_at=at(on, 17, 40),
    )
    for fracture in episode.fractures:
        _treat(book, rng, episode, pictures, procedure, fracture, route, shelf)
        fracture.fields["state"] = "treated"
    _complications(book, rng, procedure)
    return procedure


def _treat(
    book: Book,
    rng: Random,
    episode: Episode,
    pictures: Pictures,
    procedure: Row,
    fracture: Row,
    route: str,
    shelf: Shelf,
) -> None:
    """Write one treated level: what went in, where it leaked, and how high it stands now."""
    level = fracture["level"]
    looked_on = pick(rng, parameters.LEAK_LOOKED_ON.value)
    viscosity = pick(rng, parameters.VISCOSITY.value)
    cleft = next(b.cleft for b in episode.broken if b.level == level)
    chance = _leak_chance(route, looked_on, viscosity, cleft=cleft)
    leaks = looked_on != "" and rng.random() < chance
    treated = book.add(
        "treatedlevel",
        procedure=procedure,
        fracture=fracture,
        side="both" if rng.random() < 0.85 else rng.choice(("left", "right")),
        approach="extrapedicular" if region(level) == "thoracic" else "transpedicular",
        biopsy_taken=episode.cause in ("tumour", "infection") or rng.random() < 0.08,
        leak_check="" if not looked_on else ("leak" if leaks else "no_leak"),
        leak_checked_on=looked_on,
    )
    sides = ("left", "right") if treated["side"] == "both" else (treated["side"],)
    for side in sides:
        _cement(book, rng, treated, side, viscosity, shelf)
        if route == "expandable":
            shelf.implant(book, rng, treated, side, implant_size(level))
    if leaks:
        _leak(book, rng, treated, looked_on)
    gain = parameters.GAIN_MM.value[route]
    moved = (rng.gauss(gain[0], 2.0), rng.gauss(gain[1], 2.0), rng.gauss(gain[2], 1.5))
    pictures.now[level] = bodies.lifted(pictures.now[level], pictures.normal[level], moved)


def _leak_chance(route: str, looked_on: str, viscosity: str, *, cleft: bool) -> float:
    if not looked_on:
        return 0.0
    chance = parameters.LEAK_RATE.value[route][looked_on]
    odds = chance / (1 - chance) * {"low": 2.2, "medium": 1.2, "high": 0.85}[viscosity]
    odds *= parameters.LEAK_CLEFT_ODDS.value if cleft else 1.0
    return odds / (1 + odds)


def _cement(book: Book, rng: Random, treated: Row, side: str, viscosity: str, shelf: Shelf) -> None:
    mean, sd = parameters.CEMENT_ML.value[region(treated["fracture"]["level"])]
    one_sided = 1.6 if treated["side"] != "both" else 1.0
    lot, expires_on = shelf.cement_lot(rng, treated["procedure"]["performed_on"])
    recorded = rng.random() > 0.04
    book.add(
        "cementuse",
        level=treated,
        side=side,
        volume_ml=tenth(between(rng, mean * one_sided, sd, 0.6, 6.0)) if recorded else None,
        viscosity=viscosity,
        cement_class="acrylic",
        lot=lot,
        expires_on=expires_on,
        working_minutes=tenth(between(rng, 9, 2, 5, 15)),
        absent={} if recorded or rng.random() < 0.5 else {"volume_ml": "not_known"},
    )


def _leak(book: Book, rng: Random, treated: Row, looked_on: str) -> None:
    routes = [pick(rng, parameters.LEAK_ROUTE.value)]
    if rng.random() < 0.16:
        routes = sorted({*routes, pick(rng, parameters.LEAK_ROUTE.value)})
    for route in routes:
        symptoms = route == "basivertebral" and rng.random() < 0.06
        book.add(
            "leak",
            level=treated,
            route=route,
            place=rng.choice(LEAK_PLACES[route]),
            seen_on=looked_on,
            consequence="symptoms" if symptoms else ("none" if rng.random() > 0.05 else ""),
        )


def _complications(book: Book, rng: Random, procedure: Row) -> None:
    if rng.random() >= parameters.COMPLICATION.value:
        return
    happened, weights = zip(*COMPLICATIONS, strict=True)
    kind, grade, words = rng.choices(happened, weights)[0]
    book.add(
        "complication",
        procedure=procedure,
        kind=kind,
        grade=grade,
        occurred_on=procedure["performed_on"] + timedelta(days=rng.choice((0, 0, 1, 3))),
        patient_told=rng.choice((True, True, None)),
        note=words,
    )
    procedure.fields["complication_check"] = "some"


def add_specimen_task(book: Book, procedure: Row, staff: dict[str, Row], today: date) -> None:
    """Write the task to see a specimen; closed by name when the result is old enough."""
    levels = [row for row in book.of("treatedlevel") if row["procedure"] is procedure]
    taken = [row["fracture"]["level"] for row in levels if row["biopsy_taken"]]
    if not taken:
        return
    due_on = procedure["performed_on"] + timedelta(days=14)
    fields: dict[str, Any] = {}
    if due_on < today - timedelta(days=10):
        fields = {
            "closed_at": at(due_on, 12, 15),
            "closed_by": procedure["operator"],
            "action_taken": "Report seen, result told to the patient and the practice.",
        }
    book.add(
        "task",
        patient=procedure["patient"],
        kind="specimen",
        title=f"See the biopsy report of {', '.join(taken)}",
        owner=procedure["operator"],
        due_on=due_on,
        **fields,
    )


def implant_size(level: str) -> str:
    """Return the generic size for a region; the demo's own, not a supplier's table."""
    return {"thoracic": "4.2 mm", "thoracolumbar": "5.0 mm", "lumbar": "5.8 mm"}[region(level)]


def _anaesthesia(rng: Random, technique: Row) -> str:
    if technique["route"] in ("fixation", "expandable"):
        return "general" if rng.random() < 0.85 else "sedation"
    return pick(rng, {"general": 40, "sedation": 45, "local": 15})


def _drugs_note(episode: Episode) -> str:
    if not episode.takes:
        return "Takes no antithrombotic drug."
    drugs = ", ".join(drug.replace("_", " ") for drug in episode.takes)
    return f"{drugs}: stop by the approved table; anaesthetist informed."


def at(day: date, hour: int, minute: int) -> datetime:
    """Return a moment on a day."""
    return datetime.combine(day, time(hour, minute), UTC)
