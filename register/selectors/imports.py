"""Reading for files that were sent in: the list, and what would become of each row."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.db.models import QuerySet

from register.imports.kinds import KINDS
from register.imports.reading import ReadFile, read_file
from register.imports.verdicts import LEFT_OUT, WRITTEN, Verdict, counts, seal
from register.models import FileImport, Site
from register.selectors.import_referrals import judge_referrals

# For each kind of file: (id of the site, file) -> the verdict on each row.
JUDGES: Final[dict[str, Callable[[int, ReadFile], tuple[Verdict, ...]]]] = {
    "referrals": judge_referrals,
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
    """The referral files of a site, newest first, without their bytes."""
    return (
        FileImport.objects.live()
        .filter(site=site, kind="referrals")
        .select_related("uploaded_by", "confirmed_by")
        .defer("content")
        .order_by("-created_at", "-pk")
    )


def preview_of(kept: FileImport, *, today: date) -> Preview:
    """Read the kept bytes and compare them with the register. Raises FileRefused."""
    file = read_file(
        bytes(kept.content), kind=KINDS[kept.kind], date_order=kept.date_order, today=today
    )
    return Preview(file, JUDGES[kept.kind](kept.site_id, file))
