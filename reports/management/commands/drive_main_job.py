"""`drive_main_job`: do the main job once, end to end, and print what each step wrote."""

import time
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.timezone import localdate

from register.database.state import private_folder
from reports.demo.drive import drive
from reports.demo.job import DriveFailed, job_on


class Command(BaseCommand):
    help = "Drive one invented patient from the referral file to the audit, through the services."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--out", type=Path, default=None, help="folder for the PDFs; out/ of the state folder"
        )

    def handle(self, *, out: Path | None, **options: Any) -> None:
        if not settings.REGISTER_DEMO:
            raise CommandError("This is a live site; invented patients stay out of it.")
        started = time.monotonic()
        try:
            job = job_on(today=localdate(), out=out or private_folder("out"), say=self.stdout.write)
            drive(job)
        except DriveFailed as failed:
            raise CommandError(str(failed)) from failed
        self.stdout.write(f"The main job is done ({time.monotonic() - started:.0f} s).")
        self.stdout.write(f"Files: {job.out}")
