"""Keeping a file as it came and how it is read; a person confirms before rows are written."""

import hashlib
from collections.abc import Mapping
from datetime import date
from typing import Any, Final

from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.utils.timezone import localdate

from register.domain.days import day_words
from register.history import acting
from register.imports.column import ColumnsUnclear
from register.imports.decoding import FileRefused
from register.imports.kinds import KINDS
from register.imports.mapping import complete, digest_of, fits
from register.imports.reading import FileKind, read_table, table_in
from register.imports.resting import collector_resting
from register.imports.table import Table
from register.imports.workbook import SheetUnclear
from register.models import ColumnMapping, FileImport, Site, User
from register.selectors.imports import mapping_kept, table_of
from register.services.editing import EditConflict
from register.services.import_confirm import Changed as Changed
from register.services.import_confirm import ImportRefused as ImportRefused
from register.services.import_confirm import PreviewOutdated as PreviewOutdated
from register.services.import_confirm import import_confirm as import_confirm
from register.services.records import record_change, record_create, record_void

MOST_BYTES: Final = 5 * 1024 * 1024


@collector_resting()
def import_keep(
    *,
    site: Site,
    user: User,
    file_name: str,
    content: bytes,
    date_order: str,
    today: date,
    kind: str = "referrals",
    code_page: str = "",
) -> FileImport:
    """Keep a file as it came, and nothing else. The same waiting file is kept once.

    `how_read` notes what a person still has to say before its rows can be read.
    Raises FileRefused when the file as a whole cannot be read.
    """
    if len(content) > MOST_BYTES:
        raise FileRefused("The file is larger than 5 MB. Send it in parts.")
    digest = hashlib.sha256(content).hexdigest()
    waiting = FileImport.objects.live().filter(
        site=site, kind=kind, sha256=digest, date_order=date_order, confirmed_at=None,
        how_read__code_page=code_page,
    )  # fmt: skip
    there: FileImport | None = waiting.defer("content").first()
    if there is not None:
        return there
    kept = FileImport(
        site=site,
        kind=kind,
        file_name=file_name[-200:],
        sha256=digest,
        content=content,
        date_order=date_order,
        uploaded_by=user,
    )
    kept.mapping, kept.how_read = _how_read(kept, code_page=code_page, sheet="", today=today)
    with acting(user, "File sent in"):
        kept.full_clean()
        kept.save()
    return kept


def import_read_anew(
    *,
    kept: FileImport,
    expected_version: int,
    user: User,
    date_order: str,
    code_page: str,
    sheet: str,
    today: date,
) -> FileImport:
    """Read a waiting file in another way. Raises FileRefused, ImportRefused."""
    kept.date_order = date_order
    mapping, how = _how_read(kept, code_page=code_page, sheet=sheet, today=today)
    fields = {"date_order": date_order, "mapping": mapping, "how_read": how}
    return _note(kept, expected_version, user, "File read in another way", fields)


def import_columns_choose(
    *,
    kept: FileImport,
    expected_version: int,
    user: User,
    chosen: Mapping[str, str],
    today: date,
) -> FileImport:
    """Read the columns of a waiting file as chosen, and every file with this head after it.

    `chosen` maps labels of the head to names of our columns, '' for not read. Raises
    FileRefused when the rows cannot be trusted when read like this, ImportRefused.
    """
    table, kind = table_of(kept), KINDS[kept.kind]
    mapping = complete(table, chosen)
    read_table(table, kind=kind, date_order=kept.date_order, today=today, mapping=mapping)
    how = kept.how_read | {"ask": "", "columns": _told(user, localdate())}
    try:
        with acting(user, "Columns of a file chosen"):
            former = mapping_kept(kept.site, kept.kind, table.head)
            if former is not None and former.mapping != mapping:
                record_void(
                    record=former, expected_version=former.version, user=user,
                    reason="Columns chosen anew",
                )  # fmt: skip
                former = None
            if former is None:
                _mapping_create(kept, table, mapping, user)
            fields = {"mapping": mapping, "how_read": how}
            return _note(kept, expected_version, user, "Columns of a file chosen", fields)
    except (IntegrityError, EditConflict, ValidationError) as error:
        raise ImportRefused(_MEANWHILE) from error


def import_letters_right(*, kept: FileImport, expected_version: int, user: User) -> FileImport:
    """Note that a person has found the words right that a code page was guessed for."""
    fields = {"how_read": kept.how_read | {"letters": "right"}}
    return _note(kept, expected_version, user, "Letters of a file found right", fields)


_MEANWHILE: Final = (
    "Somebody has meanwhile said otherwise how this file, or one with these columns, is read. "
    "Nothing was changed: look at it again."
)


def _note(
    kept: FileImport, version: int, user: User, reason: str, fields: Mapping[str, Any]
) -> FileImport:
    if kept.confirmed_at is not None:
        raise ImportRefused("This file was confirmed already. How it was read does not change.")
    try:
        return record_change(
            record=kept, expected_version=version, user=user, reason=reason, fields=fields
        )
    except EditConflict as error:
        raise ImportRefused(_MEANWHILE) from error


def _mapping_create(kept: FileImport, table: Table, mapping: dict[str, str], user: User) -> None:
    record_create(
        record=ColumnMapping(
            site=kept.site,
            kind=kept.kind,
            head_digest=digest_of(table.head),
            mapping=mapping,
            made_by=user,
        ),
        user=user,
        reason="Columns of a file chosen",
    )


def _how_read(
    kept: FileImport, *, code_page: str, sheet: str, today: date
) -> tuple[dict[str, str], dict[str, Any]]:
    """Return the mapping of a file's columns and all else that reading it again takes.

    Raises FileRefused when nothing that a person could say would make it readable.
    """
    kind = KINDS[kept.kind]
    declared = {"code_page": code_page, "sheet": sheet}
    try:
        table = table_in(bytes(kept.content), kind=kind, code_page=code_page, sheet=sheet)
    except SheetUnclear as unclear:
        return {}, declared | {"ask": "sheet", "sheets": list(unclear.sheets)}
    if not table.lines:
        raise FileRefused("The file has a head and no rows below it. Choose the file again.")
    how = declared | {
        "form": table.how.form,
        "sheets": list(table.how.sheets),
        "letters": "ask" if table.how.doubtful else "",
    }
    mapping, columns = _columns(kept, table, kind, today)
    return mapping, how | columns


def _columns(
    kept: FileImport, table: Table, kind: FileKind, today: date
) -> tuple[dict[str, str], dict[str, Any]]:
    """Return the mapping that a head had before, none for our own names; otherwise ask."""
    former = mapping_kept(kept.site, kept.kind, table.head)
    if former is None and not fits(table, kind.columns):
        return {}, {"ask": "columns"}
    mapping = dict(former.mapping) if former else {}
    try:
        read_table(
            table, kind=kind, date_order=kept.date_order, today=today, mapping=mapping or None
        )
    except ColumnsUnclear:
        return {}, {"ask": "columns"}
    told = _told(former.made_by, former.created_at.date()) if former else {}
    return mapping, {"ask": "", "columns": told}


def _told(by: User, on: date) -> dict[str, str]:
    """Return who said what the columns hold, and when, as it is shown."""
    return {"by": str(by), "on": day_words(on)}


def import_set_aside(*, kept: FileImport, user: User) -> None:
    """Set a file aside that is not to be written. Raises ImportRefused when it was confirmed."""
    if kept.confirmed_at is not None:
        raise ImportRefused("This file was confirmed. Correct its rows on the patients' records.")
    record_void(record=kept, expected_version=kept.version, user=user, reason="Not to be imported")
