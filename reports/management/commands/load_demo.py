"""`load_demo`: put the invented department into an empty register."""

import time
from datetime import date
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.timezone import localdate

from register.domain.days import day_words
from reports.demo import load
from reports.demo.parameters import PAST_PATIENTS, SEED
from reports.demo.referral_file import week_of_referrals
from reports.demo.scenario import make_scenario


class Command(BaseCommand):
    help = "Load the invented demo department; a register that holds it already is left alone."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--seed", type=int, default=SEED)
        parser.add_argument(
            "--today",
            type=date.fromisoformat,
            default=None,
            help="the day on which the scenario ends, as 2027-03-07; today when left out",
        )
        parser.add_argument(
            "--past-patients",
            type=int,
            default=PAST_PATIENTS.value,
            help="how many patients besides those who wait today",
        )
        parser.add_argument(
            "--week-of-referrals",
            type=Path,
            metavar="FILE",
            help="only write a file of thirty invented referrals, to try the import with",
        )

    def handle(self, *, seed: int, today: date | None, **options: Any) -> None:
        if not settings.REGISTER_DEMO:
            raise CommandError("This is a live site; the demo's invented people stay out of it.")
        today = today or localdate()
        if file := options["week_of_referrals"]:
            file.write_text(week_of_referrals(today=today, seed=seed), encoding="utf-8", newline="")
            self.stdout.write(f"Wrote {file}: thirty referrals of the week to {day_words(today)}.")
            return
        try:
            load.refuse_other_people()
        except load.OtherPeople as refused:
            raise CommandError(str(refused)) from None
        if load.is_loaded():
            self.stdout.write("The demo department is loaded already; its data were kept.")
        else:
            self._load(seed, today, options["past_patients"])
        self.stdout.write(load.sign_ins())

    def _load(self, seed: int, today: date, past_patients: int) -> None:
        started = time.monotonic()
        self.stdout.write(f"Loading the demo department as of {day_words(today)}:")
        book = make_scenario(today=today, seed=seed, past_patients=past_patients)
        load.load(book, say=self.stdout.write)
        self.stdout.write(f"Loaded in {time.monotonic() - started:.0f} s.")
