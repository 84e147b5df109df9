"""Invented audit rows: about twenty procedures a quarter, with losses that feel like life."""

import random
from datetime import date, timedelta
from decimal import Decimal

from register.domain.protocol import shipped
from reports.audits.rows import (
    ComplicationRow,
    ContactRow,
    HeightRow,
    LeakRow,
    LevelRow,
    ProcedureRow,
    Rows,
    ScoreRow,
)
from reports.audits.spec import BEFORE, Spec, quarter_days

FIRST, LAST = quarter_days(2027, 1)
CUT_OFF = date(2027, 4, 9)
SPEC = Spec(
    site="Harrowmere General Hospital",
    first_day=FIRST,
    last_day=LAST,
    cut_off=CUT_OFF,
    protocol=shipped(LAST),
)
LEVELS = ("T7", "T8", "T11", "T12", "T12", "L1", "L1", "L1", "L2", "L3", "L4")
TECHNIQUES = (
    ("cement alone", "cement"),
    ("balloon tamping and cement", "balloon"),
    ("paired expandable implants and cement", "expandable"),
)


def rows(procedures=100, seed=7):
    """Return rows of procedures from September 2025 to March 2027."""
    return _Maker(random.Random(seed)).make(procedures)


class _Maker:
    def __init__(self, chance):
        self.chance = chance
        self.kept = {name: [] for name in Rows.__dataclass_fields__}

    def make(self, procedures):
        first = date(2025, 9, 8)
        for number in range(procedures):
            day = first + timedelta(days=round(number * (LAST - first).days / (procedures - 1)))
            self.procedure(number + 1, day)
        return Rows(**{name: tuple(found) for name, found in self.kept.items()})

    def likely(self, share):
        return self.chance.random() < share

    def procedure(self, number, day):
        key = f"P{number:04d}"
        technique, route = self.chance.choices(TECHNIQUES, weights=(3, 4, 3))[0]
        end, ended_on = "", None
        if self.likely(0.14):
            end = self.chance.choice(("dead", "dead", "withdrawn", "lost", "moved", "unable"))
            ended_on = day + timedelta(days=self.chance.randint(20, 330))
            if ended_on > CUT_OFF:
                end, ended_on = "", None
        self.kept["procedures"].append(
            ProcedureRow(
                key=key,
                patient=f"N{number - self.likely(0.05):04d}",
                performed_on=day,
                technique=technique,
                route=route,
                age_years=self.chance.randint(58, 93),
                sex=self.chance.choices(("female", "male", ""), weights=(74, 24, 2))[0],
                signed=not self.likely(0.03),
                complication_check=self.chance.choices(("none", ""), weights=(95, 5))[0],
                end=end,
                ended_on=ended_on,
            )
        )
        for place in range(self.chance.choices((1, 2, 3), weights=(72, 22, 6))[0]):
            self.level(key, day, place)
        if self.likely(0.06):
            kind = self.chance.choice(("medical", "bleeding", "embolism", "neurology_new"))
            grade = self.chance.choice(("I", "II", "IIIa", ""))
            self.kept["complications"].append(
                ComplicationRow(f"K{number:04d}", key, kind, grade, day + timedelta(days=1))
            )
        self.contacts(key, number, day, ended_on)

    def level(self, procedure, day, place):
        key = f"{procedure}-{place + 1}"
        age = None if self.likely(0.06) else round(self.chance.lognormvariate(3.3, 0.5))
        check = self.chance.choices(("no_leak", "leak", ""), weights=(62, 31, 7))[0]
        seen_on = self.chance.choice(("fluoroscopy", "film", "ct", "ct")) if check else ""
        self.kept["levels"].append(
            LevelRow(
                key=key,
                procedure=procedure,
                level=LEVELS[(hash_of(procedure) + place) % len(LEVELS)],
                cause=self.chance.choices(
                    ("osteoporotic", "tumour", "trauma", "unclear"), weights=(86, 7, 5, 2)
                )[0],
                fracture_age_days=age,
                onset_precision=self.chance.choices(("day", "week", "month"), (60, 28, 12))[0],
                leak_check=check,
                leak_checked_on=seen_on,
            )
        )
        if check == "leak":
            route = self.chance.choices(
                ("basivertebral", "segmental", "cortical", "disc", ""), (2, 3, 3, 3, 1)
            )[0]
            where = {
                "basivertebral": "epidural",
                "segmental": "paraspinal",
                "cortical": "anterior",
                "disc": "upper_disc",
                "": "",
            }[route]
            self.kept["leaks"].append(
                LeakRow(
                    f"{key}-L",
                    key,
                    route,
                    where,
                    seen_on,
                    self.chance.choices(("none", "symptoms", ""), (90, 5, 5))[0],
                )
            )
        self.images(key, day)

    def images(self, level, day):
        before = self.chance.gauss(17.5, 3)
        gain = self.chance.gauss(3.5, 2)
        plan = (
            ("supine", -4, before + 1.5, 0.7),
            ("standing", -9, before, 0.75),
            ("standing", 1, before + gain, 0.8),
            ("supine", 2, before + 1.5 + gain, 0.3),
            ("standing", 95, before + gain * 0.7, 0.5),
            ("standing", 360, before + gain * 0.55, 0.5),
        )
        for number, (posture, offset, height, share) in enumerate(plan):
            taken = day + timedelta(days=offset)
            if taken > CUT_OFF or not self.likely(share):
                continue
            self.kept["heights"].append(
                HeightRow(
                    key=f"{level}-H{number}",
                    level=level,
                    taken_on=taken,
                    modality="film" if posture == "standing" else "ct",
                    posture=posture if not self.likely(0.03) else "",
                    calibration=self.chance.choices(("calibrated", "none", ""), (92, 5, 3))[0],
                    anterior_mm=Decimal(f"{max(6, height + self.chance.gauss(0, 1)):.1f}"),
                    middle_mm=None,
                    posterior_mm=None,
                )
            )

    def contacts(self, procedure, number, day, ended_on):
        pain = min(10, max(4, round(self.chance.gauss(8, 1.2))))
        fall = {"weeks_2_4": 3.8, "months_3": 4.4, "months_12": 4.3}
        seen_share = {BEFORE: 0.97, "weeks_2_4": 0.9, "months_3": 0.8, "months_12": 0.68}
        for point in (t for t in SPEC.protocol.timepoints if t.asked):
            opens, target, closes = (
                day + timedelta(days=days)
                for days in (point.opens_days, point.target_days, point.closes_days)
            )
            held = target + timedelta(days=self.chance.randint(-4, 5))
            if point.code == BEFORE:
                held = day - timedelta(days=self.chance.randint(0, 9))
            elif self.likely(0.04):
                held = closes + timedelta(days=6)
            came = self.likely(seen_share[point.code]) and held <= CUT_OFF
            if not came or (ended_on and held >= ended_on):
                held = None
            key = f"C{number:04d}-{point.code}"
            self.kept["contacts"].append(
                ContactRow(key, procedure, point.code, opens, target, closes, held)
            )
            if held:
                after = (
                    pain
                    - fall.get(point.code, 0)
                    + (self.chance.gauss(0, 1.8) if fall.get(point.code) else 0)
                )
                value = Decimal(min(10, max(0, round(after))))
                told = self.likely(0.95)
                self.kept["scores"].append(
                    ScoreRow(
                        f"{key}/pain",
                        key,
                        "pain_moving",
                        value if told else None,
                        "" if told else self.chance.choice(("declined", "not_done")),
                    )
                )


def hash_of(text):
    """A number of a text that is the same in every process."""
    return sum(text.encode())
