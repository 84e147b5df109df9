"""How far the writing of a file has come, as another connection tells it."""

import re
from dataclasses import dataclass

from django.db import connection

from register.models import FileImport


@dataclass(frozen=True, slots=True)
class Progress:
    """Records written so far, and records in all."""

    done: int
    total: int

    @property
    def words(self) -> str:
        """The progress in words."""
        return f"{self.done:,} of {self.total:,} records written"


def progress_of(kept: FileImport) -> Progress | None:
    """Return how far the writing of a file has come; None when nobody is writing it now."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT application_name FROM pg_stat_activity"
            " WHERE datname = current_database() AND application_name LIKE %s",
            [f"register import {kept.pk}: %"],
        )
        row = cursor.fetchone()
    numbers = re.search(r": (\d+) of (\d+)$", row[0]) if row else None
    return Progress(int(numbers[1]), int(numbers[2])) if numbers else None
