"""A week of referrals as a file: invented people in the columns that the import reads."""

import csv
import io
from collections.abc import Iterable
from datetime import date, timedelta
from decimal import Decimal
from random import Random
from typing import Any, Final

from django.db import models

from register.domain.days import MONTHS, day_words
from register.domain.nhs_number import formatted
from register.domain.vocabulary import ABSENT, ANTITHROMBOTIC, ANTITHROMBOTIC_INDICATION, words_for
from register.imports.column import Column
from register.imports.referrals.columns import COLUMNS
from register.models import Patient, Referral
from reports.demo import imaging, people, referrals
from reports.demo.book import Book, Row
from reports.demo.referrals import Episode

ROWS: Final = 30
# These patients' numbers begin above those of the scenario.
OFFSET: Final = 2000
_MODELS: Final[dict[str, type[models.Model]]] = {"patient": Patient, "referral": Referral}
# Two rows that a preview must refuse, by their place: a slip of the kind that people make.
SLIPS: Final = {11: ("NHS Number", "mistyped"), 23: ("Levels", "L6")}


def week_of_referrals(*, today: date, seed: int) -> str:
    """Return the file as text: thirty referrals of the seven days that end today.

    Two rows hold a slip, so that a preview has something to refuse.
    """
    book = Book()
    site = people.add_staff(book)["site"]
    for number in range(ROWS):
        rng = Random(f"{seed} referral {number}")
        _add(book, rng, site, referred_on=today - timedelta(days=number % 7))
    return _as_file(
        _with_slip(place, _line(book, referral))
        for place, referral in enumerate(book.of("referral"), start=1)
    )


def many_referrals(rows: int, *, today: date, seed: int) -> str:
    """Return a file of so many referrals, each of another patient, without slips."""

    def line(number: int) -> dict[str, str]:
        book, rng = Book(), Random(f"{seed} referral {number}")
        site, day = people.add_staff(book)["site"], today - timedelta(days=number % 700)
        _add(book, rng, site, referred_on=day, offset=OFFSET + number)
        return _line(book, book.of("referral")[0])

    return _as_file(map(line, range(rows)))


def _as_file(lines: Iterable[dict[str, str]]) -> str:
    sheet = io.StringIO()
    writer = csv.DictWriter(sheet, [c.name for c in COLUMNS], lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(lines)
    return sheet.getvalue()


def _add(book: Book, rng: Random, site: Row, *, referred_on: date, offset: int = OFFSET) -> None:
    profile = people.draw_profile(rng)
    patient = people.add_patient(book, rng, site, profile, on=referred_on, offset=offset)
    episode = Episode(
        patient,
        profile,
        onset_on=referred_on - timedelta(days=referrals.draw_days_to_referral(rng)),
        referred_on=referred_on,
        broken=referrals.draw_broken(rng, referrals.draw_levels(rng)),
        destiny="procedure" if rng.random() < 0.7 else "conservative",
    )
    referrals.add_referral(book, rng, episode, given={"received_on": None})
    imaging.add_blood(book, rng, episode, within_days=0)


def _with_slip(place: int, line: dict[str, str]) -> dict[str, str]:
    if place not in SLIPS:
        return line
    column, slip = SLIPS[place]
    if slip == "mistyped":
        slip = line[column][:-1] + str((int(line[column][-1]) + 1) % 10)
    return line | {column: slip}


def _line(book: Book, referral: Row) -> dict[str, str]:
    return {column.name: _cell(book, referral, column) for column in COLUMNS}


def _cell(book: Book, referral: Row, column: Column) -> str:
    patient = referral["patient"]
    if column.part == "phone":
        phones = [row["number"] for row in book.of("patientphone") if row["patient"] is patient]
        return phones[0] if phones else ""
    if column.part == "fracture":
        return _of_fractures(book, referral, column)
    if column.part == "drugs":
        return _drugs(book, referral)
    if column.part == "laboratory":
        return _blood(book, patient, column)
    if column.field == "onset_on":
        return _onset(referral)
    row = patient if column.part == "patient" else referral
    return _words(row, _MODELS[column.part], column.field)


def _words(row: Row, model: type[models.Model], field: str) -> str:
    """Return a value as people write it, or the reason why there is none."""
    value = row.get(field)
    if value in (None, "", []):
        return words_for(ABSENT, row["absent"][field]) if field in row["absent"] else ""
    column: Any = model._meta.get_field(field)
    choices = dict(getattr(column, "base_field", column).choices or ())
    if isinstance(value, list):
        return "; ".join(choices[code] for code in value)
    if field == "nhs_number":
        return formatted(value)
    return choices.get(value) or _plain(value)


def _plain(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return day_words(value) if isinstance(value, date) else str(value)


def _of_fractures(book: Book, referral: Row, column: Column) -> str:
    fractures = [row for row in book.of("fracture") if row["referral"] is referral]
    if column.field == "levels":
        return " ".join(fracture["level"] for fracture in fractures)
    return _plain(fractures[0][column.field])


def _drugs(book: Book, referral: Row) -> str:
    if not referral["takes_antithrombotics"]:
        return "none"
    drugs = [row for row in book.of("referraldrug") if row["referral"] is referral]
    return "; ".join(
        words_for(ANTITHROMBOTIC, row["drug"])
        + (f" ({words_for(ANTITHROMBOTIC_INDICATION, why)})" if (why := row["indication"]) else "")
        for row in drugs
    )


def _blood(book: Book, patient: Row, column: Column) -> str:
    rows = [row for row in book.of("laboratoryresult") if row["patient"] is patient]
    if column.field == "taken_on":
        return day_words(rows[0]["taken_on"]) if rows else ""
    values = [row["value"] for row in rows if row["analyte"] == column.field]
    return f"{Decimal(values[0]).normalize():f}" if values else ""


def _onset(referral: Row) -> str:
    on = referral["onset_on"]
    if on is None:
        return "not known"
    if referral["onset_precision"] == "month":
        return f"{MONTHS[on.month - 1]} {on.year}"
    return day_words(on)
