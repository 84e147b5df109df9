"""Keeping a referral file as it came, and writing its rows once a person has confirmed them."""

import hashlib
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.utils import timezone

from register.history import acting
from register.imports.decoding import FileRefused
from register.imports.kinds import KINDS
from register.imports.reading import read_file
from register.imports.verdicts import LETTERS
from register.models import FileImport, Site, User
from register.selectors.imports import Preview, preview_of
from register.services.import_referrals import referrals_write
from register.services.records import record_void

MOST_BYTES: Final = 5 * 1024 * 1024
_KIND_OF: Final = {letter: kind for kind, letter in LETTERS.items()}


@dataclass(frozen=True, slots=True)
class Changed:
    """A row whose verdict is not what the preview showed."""

    number: int
    before: str
    now: str


class PreviewOutdated(Exception):
    """The register changed after the preview; nothing was written. `preview` is the new one."""

    def __init__(self, preview: Preview, changed: list[Changed]) -> None:
        super().__init__(
            "The register changed since this page was shown, so nothing was written. "
            "Look at the rows again and confirm what you see now."
        )
        self.preview, self.changed = preview, changed


class ImportRefused(Exception):
    """The import cannot be done at all; the message says why."""


def import_keep(
    *, site: Site, user: User, file_name: str, content: bytes, date_order: str, today: date
) -> FileImport:
    """Keep a file as it came, and nothing else. The same waiting file is kept once.

    Raises FileRefused when the file as a whole cannot be read.
    """
    if len(content) > MOST_BYTES:
        raise FileRefused("The file is larger than 5 MB. Send it in parts.")
    read_file(content, kind=KINDS["referrals"], date_order=date_order, today=today)
    digest = hashlib.sha256(content).hexdigest()
    waiting = FileImport.objects.live().filter(
        site=site, kind="referrals", sha256=digest, date_order=date_order, confirmed_at=None
    )
    there: FileImport | None = waiting.defer("content").first()
    if there is not None:
        return there
    kept = FileImport(
        site=site,
        kind="referrals",
        file_name=file_name[-200:],
        sha256=digest,
        content=content,
        date_order=date_order,
        uploaded_by=user,
    )
    with acting(user, "Referral file sent in"):
        kept.full_clean()
        kept.save()
    return kept


def import_confirm(*, kept: FileImport, user: User, seen: str, today: date) -> FileImport:
    """Write the new rows of a kept file, all or nothing.

    The bytes are read and compared again. `seen` is the seal of the preview that
    the person confirmed; when a verdict has changed since, nothing is written.
    Raises PreviewOutdated, ImportRefused, FileRefused.
    """
    reason = f"Referral file {kept.pk}"
    try:
        with acting(user, reason):
            kept = FileImport.objects.select_for_update().get(pk=kept.pk, voided_at=None)
            if kept.confirmed_at is not None:
                raise ImportRefused("This file was confirmed already. Nothing was written again.")
            preview = preview_of(kept, today=today)
            if preview.seal != seen:
                raise PreviewOutdated(preview, _changed(preview, seen))
            if not preview.to_write:
                raise ImportRefused("No row of this file is new, so there is nothing to write.")
            referrals_write(preview.to_write, site=kept.site)
            _note_outcome(kept, preview, user)
    except ValidationError as error:
        raise ImportRefused(f"{' '.join(error.messages)} Nothing was written.") from error
    except IntegrityError as error:
        # A verdict foresees what the tables refuse; what is left was saved in this very moment.
        raise ImportRefused(
            "Somebody changed one of these records in this moment. Nothing was written: "
            "look at the rows again and confirm."
        ) from error
    return kept


def import_set_aside(*, kept: FileImport, user: User) -> None:
    """Set a file aside that is not to be written. Raises ImportRefused when it was confirmed."""
    if kept.confirmed_at is not None:
        raise ImportRefused("This file was confirmed. Correct its rows on the patients' records.")
    record_void(record=kept, expected_version=kept.version, user=user, reason="Not to be imported")


def _changed(preview: Preview, seen: str) -> list[Changed]:
    """Return the rows whose verdict differs from what was seen."""
    shown = seen.ljust(len(preview.verdicts))
    return [
        Changed(verdict.number, _words(letter), verdict.kind.words)
        for verdict, letter in zip(preview.verdicts, shown, strict=False)
        if LETTERS[verdict.kind] != letter
    ]


def _words(letter: str) -> str:
    kind = _KIND_OF.get(letter)
    return kind.words if kind else "not shown"


def _note_outcome(kept: FileImport, preview: Preview, user: User) -> None:
    """Note who confirmed, how many rows of each kind there were, and why some were refused."""
    kept.confirmed_by, kept.confirmed_at = user, timezone.now()
    kept.counts = preview.counts | {
        "refusals": [[v.number, *v.reasons] for v in preview.refused],
    }
    kept.version += 1
    kept.full_clean(exclude=["content"])
    kept.save(update_fields=["confirmed_by", "confirmed_at", "counts", "version"])
