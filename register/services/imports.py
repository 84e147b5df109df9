"""Keeping a file as it came; its rows are written once a person has confirmed them."""

import hashlib
from datetime import date
from typing import Final

from register.history import acting
from register.imports.decoding import FileRefused
from register.imports.kinds import KINDS
from register.imports.reading import read_file
from register.models import FileImport, Site, User
from register.services.import_confirm import Changed as Changed
from register.services.import_confirm import ImportRefused as ImportRefused
from register.services.import_confirm import PreviewOutdated as PreviewOutdated
from register.services.import_confirm import import_confirm as import_confirm
from register.services.records import record_void

MOST_BYTES: Final = 5 * 1024 * 1024


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


def import_set_aside(*, kept: FileImport, user: User) -> None:
    """Set a file aside that is not to be written. Raises ImportRefused when it was confirmed."""
    if kept.confirmed_at is not None:
        raise ImportRefused("This file was confirmed. Correct its rows on the patients' records.")
    record_void(record=kept, expected_version=kept.version, user=user, reason="Not to be imported")
