"""Writing the rows of a file once a person has confirmed what the preview showed.

All rows or none, in one transaction whose number and reason are kept: by both, what the
file wrote is found in the history (the number alone starts again after a restore).
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection
from django.utils import timezone

from register.history import acting
from register.imports.resting import collector_resting
from register.imports.verdicts import KIND_OF, tokens
from register.models import FileImport, User
from register.selectors.import_provenance import IMPORTED
from register.selectors.imports import Preview, preview_of, question_of
from register.services.import_procedures import procedures_write
from register.services.import_progress import progress_told
from register.services.import_referrals import referrals_write
from register.services.import_scores import scores_write
from register.services.import_theatre_log import theatre_log_write
from register.services.import_writing import RowMoved, Say, refusal_words

# For each kind of file: (verdicts to write, site, user, say) -> all of them written.
WRITERS: Final[dict[str, Callable[..., None]]] = {
    "referrals": referrals_write,
    "scores": scores_write,
    "theatre_log": theatre_log_write,
    "procedures": procedures_write,
}


_READ_OTHERWISE: Final = (
    "How the file is read is not settled, or was changed since this page was shown. Nothing "
    "was written: look at the rows again and confirm."
)


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


@collector_resting()
def import_confirm(
    *,
    kept: FileImport,
    user: User,
    seen: str,
    today: date,
    version: int | None = None,
    say: Say | None = None,
) -> FileImport:
    """Write the new and changed rows of a kept file, all or nothing.

    The bytes are read and compared again. `seen` is the seal of the preview that
    the person confirmed; when a verdict has changed since, nothing is written.
    `version` is the kept file's that the preview was made of: read in another way, the
    same verdicts may stand for other values. None for whoever has just read it.
    `say` is told of the progress; any other connection can read it too.
    Raises PreviewOutdated, ImportRefused, FileRefused.
    """
    try:
        with progress_told(kept, say) as tell, acting(user, import_reason(kept)):
            kept = FileImport.objects.select_for_update().get(pk=kept.pk, voided_at=None)
            tell(0, 0)  # from here on nobody else writes this file
            if kept.confirmed_at is not None:
                raise ImportRefused("This file was confirmed already. Nothing was written again.")
            if question_of(kept) or version not in (None, kept.version):
                raise ImportRefused(_READ_OTHERWISE)
            preview = preview_of(kept, today=today)
            if preview.seal != seen:
                raise PreviewOutdated(preview, _changed(preview, seen))
            if not preview.to_write:
                raise ImportRefused("No row of this file is new, so there is nothing to write.")
            WRITERS[kept.kind](preview.to_write, site=kept.site, user=user, say=tell)
            _note_outcome(kept, preview, user)
    except ValidationError as error:
        raise ImportRefused(f"{' '.join(error.messages)} Nothing was written.") from error
    except (IntegrityError, RowMoved) as error:
        raise ImportRefused(_refusal(error)) from error
    return kept


def import_reason(kept: FileImport) -> str:
    """Return the reason that stands in the history beside all that a file wrote."""
    return f"{IMPORTED}{kept.pk}"


def _refusal(error: IntegrityError | RowMoved) -> str:
    """A verdict foresees what the tables refuse; what is left was mostly saved in this moment."""
    if isinstance(error, IntegrityError) and (words := refusal_words(error)):
        return f"A row was refused: {words} Nothing was written."
    return (
        "Somebody changed one of these records in this moment. Nothing was written: "
        "look at the rows again and confirm."
    )


def _changed(preview: Preview, seen: str) -> list[Changed]:
    """Return the rows whose verdict, or what it changes, differs from what was seen."""
    shown = tokens(seen)
    shown += [""] * (len(preview.verdicts) - len(shown))
    return [
        Changed(verdict.number, _words(token), verdict.kind.words)
        for verdict, token in zip(preview.verdicts, shown, strict=False)
        if verdict.token != token
    ]


def _words(token: str) -> str:
    if not token:
        return "not shown"
    other = ", with other values" if len(token) > 1 else ""
    return KIND_OF[token[0]].words + other


def _note_outcome(kept: FileImport, preview: Preview, user: User) -> None:
    """Note who confirmed, in which transaction, how many rows of each kind, and what was left."""
    kept.confirmed_by, kept.confirmed_at = user, timezone.now()
    kept.transaction_id = _transaction_id()
    kept.counts = preview.counts | {
        "refusals": [[v.number, *v.reasons] for v in preview.refused],
    }
    kept.version += 1
    kept.full_clean(exclude=["content"])
    kept.save(update_fields=["confirmed_by", "confirmed_at", "transaction_id", "counts", "version"])


def _transaction_id() -> int:
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_current_xact_id()::text::bigint")
        return int(cursor.fetchone()[0])
