"""Reading for files that were sent in: the list, and what would become of each row."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.db.models import QuerySet

from register.imports.kinds import KINDS
from register.imports.mapping import digest_of
from register.imports.reading import ReadFile, read_table, table_in
from register.imports.resting import collector_resting
from register.imports.table import Table
from register.imports.verdicts import LEFT_OUT, WRITTEN, Verdict, counts, seal
from register.models import ColumnMapping, FileImport, Site
from register.selectors.import_procedures import judge_procedures
from register.selectors.import_referrals import judge_referrals
from register.selectors.import_scores import judge_scores
from register.selectors.import_theatre_log import judge_theatre_log

# For each kind of file: (id of the site, file) -> the verdict on each row.
JUDGES: Final[dict[str, Callable[[int, ReadFile], tuple[Verdict, ...]]]] = {
    "referrals": judge_referrals,
    "scores": judge_scores,
    "theatre_log": judge_theatre_log,
    "procedures": judge_procedures,
}


@dataclass(frozen=True, slots=True)
class Preview:
    """A file compared with the register as it stands now."""

    file: ReadFile
    verdicts: tuple[Verdict, ...]

    @property
    def counts(self) -> dict[str, int]:
        """How many rows have each verdict."""
        return counts(self.verdicts)

    @property
    def seal(self) -> str:
        """The verdicts as one text; sent back with the confirmation."""
        return seal(self.verdicts)

    @property
    def to_write(self) -> list[Verdict]:
        """The rows that a confirmation writes."""
        return [v for v in self.verdicts if v.kind in WRITTEN]

    @property
    def refused(self) -> list[Verdict]:
        """The rows that a confirmation leaves out: for a person to decide, or not readable."""
        return [v for v in self.verdicts if v.kind in LEFT_OUT]


def imports_of(site: Site) -> QuerySet[FileImport]:
    """The files of a site, of every kind, newest first, without their bytes."""
    return (
        FileImport.objects.live()
        .filter(site=site)
        .select_related("uploaded_by", "confirmed_by")
        .defer("content")
        .order_by("-created_at", "-pk")
    )


@collector_resting()
def preview_of(kept: FileImport, *, today: date) -> Preview:
    """Read the kept bytes as was said and compare them with the register. Raises FileRefused."""
    file = read_table(
        table_of(kept),
        kind=KINDS[kept.kind],
        date_order=kept.date_order,
        today=today,
        mapping=kept.mapping or None,
    )
    return Preview(file, JUDGES[kept.kind](kept.site_id, file))


def table_of(kept: FileImport) -> Table:
    """Return the cells of a kept file. Raises SheetUnclear, FileRefused."""
    return table_in(
        bytes(kept.content),
        kind=KINDS[kept.kind],
        code_page=kept.how_read.get("code_page", ""),
        sheet=kept.how_read.get("sheet", ""),
    )


def question_of(kept: FileImport) -> str:
    """Return what a person has to say before a file is written: sheet, columns, letters or ''."""
    asked: str = kept.how_read.get("ask", "")
    if not asked and kept.how_read.get("letters") == "ask":
        return "letters"
    return asked


def mapping_kept(site: Site, kind: str, head: Sequence[str]) -> ColumnMapping | None:
    """Return how this department reads files of a kind with this head, None when never said."""
    return (
        ColumnMapping.objects.live()
        .filter(site=site, kind=kind, head_digest=digest_of(head))
        .select_related("made_by")
        .first()
    )
