"""How far the writing of a file has come, as another connection tells it, and how long it takes."""

import re
from dataclasses import dataclass
from typing import Final

from django.db import connection

from register.models import FileImport

# Measured on two slow cores on 25 Nov 2026 (`manage.py drill large_file`): 10,000 rows of
# referrals take 13 s to write with 45,000 records, 17 to 21 s with 82,000.
_ROWS_A_SECOND: Final = 500
_WORTH_SAYING_S: Final = 3


@dataclass(frozen=True, slots=True)
class Progress:
    """Records written so far, and records in all; 0 in all while the rows are still compared."""

    done: int
    total: int

    @property
    def words(self) -> str:
        """The progress in words."""
        if not self.total:
            return "the rows are compared once more"
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


def patience_words(rows: int) -> str:
    """Return how long the writing of so many rows may take; '' for a few."""
    seconds = rows / _ROWS_A_SECOND
    if seconds < _WORTH_SAYING_S:
        return ""
    about = max(5, round(seconds / 5) * 5)
    return f"This may take {about} seconds. Then the page says what was written."
