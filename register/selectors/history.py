"""The history of a patient's records: which rows, which changes, in pages, as of a moment.

The number of queries follows from the kinds of records, never from their number.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from django.db import connection
from django.db.models import F, Q, QuerySet, Value

from register.history.kinds import Kind
from register.history.names import Names
from register.history.past import row_as_of
from register.history.reading import COLUMNS, Change, change_from, changes_of_rows
from register.history.sql import PATIENT_OF_CHANGE
from register.history.telling import told_values
from register.models import Patient, RecordTransfer, User
from register.models.base import Record

PAGE: Final = 25  # saves on a page
Keys = set[tuple[str, str]]  # (table, key) of rows

_EVER = f"SELECT DISTINCT table_name, row_key FROM audit.change_log WHERE {PATIENT_OF_CHANGE} = %s"
_MINE = """
WITH mine AS (
    SELECT * FROM audit.change_log
    WHERE (table_name, row_key) IN (SELECT * FROM unnest(%(tables)s::text[], %(keys)s::text[]))
)
"""
# A page is cut between saves, never within one; the newest number of a save places it.
_PAGE = f"""{_MINE}, saves AS (
    SELECT transaction_id, actor, max(id) AS newest FROM mine
    WHERE %(person)s IN ('', actor)
    GROUP BY transaction_id, actor
    HAVING %(before)s = 0 OR max(id) < %(before)s
    ORDER BY newest DESC LIMIT %(most)s
)
SELECT {", ".join("mine." + name for name in COLUMNS.split(", "))}, newest
FROM mine JOIN saves USING (transaction_id, actor)
ORDER BY newest DESC, mine.id DESC
"""
_PEOPLE = f"{_MINE} SELECT actor, max(actor_id) FROM mine GROUP BY actor ORDER BY lower(actor)"


@dataclass(frozen=True, slots=True)
class HistoryPage:
    """The changes of one page, newest first, and the number before which the next page begins."""

    changes: list[Change]
    older: int | None


def keys_of(patient: Patient, kinds: Iterable[Kind]) -> Keys:
    """Return all rows that belong to a patient or ever did, the set aside ones included."""
    kinds = list(kinds)
    tables = {kind.table for kind in kinds}
    with connection.cursor() as cursor:
        cursor.execute(_EVER, [str(patient.pk)])
        keys = {(table, key) for table, key in cursor.fetchall() if table in tables}
    keys.add((Patient._meta.db_table, str(patient.pk)))
    own: dict[str, list[int]] = defaultdict(list)
    for table, key in keys:
        own[table].append(int(key))
    below = [rows for kind in kinds if (rows := _rows_below(kind, patient, own)) is not None]
    if below:
        keys |= {(table, str(key)) for table, key in below[0].union(*below[1:], all=True)}
    return keys


def keys_below(kinds: Iterable[Kind], top: type[Record], key: int) -> Keys:
    """Return the row of one record and those of some kinds that hang on it."""
    keys = {(top._meta.db_table, str(key))}
    for kind in kinds:
        above: Any = kind.model
        for depth, name in enumerate(kind.parents, start=1):
            above = above._meta.get_field(name).related_model
            if above is top:
                path = "__".join(kind.parents[:depth])
                rows = kind.model._base_manager.filter(**{path: key}).values_list("pk", flat=True)
                keys |= {(kind.table, str(pk)) for pk in rows}
    return keys


def _rows_below(
    kind: Kind, patient: Patient, own: Mapping[str, list[int]]
) -> QuerySet[Any, tuple[str, int]] | None:
    """Return (table, key) of the rows of a kind that name the patient through other rows."""
    if kind.model is RecordTransfer:
        chosen = Q(from_patient=patient) | Q(to_patient=patient)
    elif kind.parents:
        top: Any = kind.model
        for name in kind.parents:
            top = top._meta.get_field(name).related_model
        chosen = Q(**{f"{'__'.join(kind.parents)}__in": own[top._meta.db_table]})
    else:
        return None
    rows = kind.model._base_manager.filter(chosen).order_by()
    return rows.annotate(table=Value(kind.table), key=F("pk")).values_list("table", "key")


def history_page(keys: Keys, *, person: str = "", before: int = 0) -> HistoryPage:
    """Return one page of the changes of some rows, perhaps only those of one person."""
    given: dict[str, Any] = {"person": person, "before": before, "most": PAGE + 1} | _arrays(keys)
    with connection.cursor() as cursor:
        cursor.execute(_PAGE, given)
        rows = cursor.fetchall()
    newest = sorted({row[-1] for row in rows}, reverse=True)
    older = newest[PAGE - 1] if len(newest) > PAGE else None
    shown = [change_from(row[:-1]) for row in rows if older is None or row[-1] >= older]
    return HistoryPage(shown, older)


def people_of(keys: Keys) -> list[tuple[str, int | None]]:
    """Return who ever changed some rows, as (name to sign in or job, number of the person)."""
    with connection.cursor() as cursor:
        cursor.execute(_PEOPLE, _arrays(keys))
        return cursor.fetchall()


def _arrays(keys: Keys) -> dict[str, list[str]]:
    pairs = sorted(keys)
    return {"tables": [table for table, _ in pairs], "keys": [key for _, key in pairs]}


def names_for(
    changes: Sequence[Change], kinds: Mapping[str, Kind], timepoints: Mapping[str, str]
) -> Names:
    """Look up whatever some changes point at, and who made them."""
    names = Names(timepoints)
    rows = [(kinds[c.table].model, row) for c in changes for row in (c.old, c.new) if row]
    names.load(rows)
    names.look_up(User, {change.actor_id for change in changes if change.actor_id})
    return names


def roles_then(changes: Sequence[Change]) -> dict[int, str]:
    """Return the role that each person had at the newest of some changes."""
    newest = {c.actor_id: c.at for c in reversed(changes) if c.actor_id is not None}
    of_people = changes_of_rows((User._meta.db_table, str(key)) for key in newest)
    by_person: dict[str, list[Change]] = defaultdict(list)
    for change in of_people:
        by_person[change.key].append(change)
    then = {key: row_as_of(by_person[str(key)], at) for key, at in newest.items()}
    return {key: row["role"] for key, row in then.items() if row}


@dataclass(frozen=True, slots=True)
class PastRecord:
    """One record as it stood: its title, its values in words, what was not recorded."""

    kind: Kind
    key: int
    title: str
    values: tuple[tuple[str, str], ...]
    not_recorded: tuple[str, ...]
    set_aside: str


def records_as_of(
    patient: Patient, at: datetime, kinds: Sequence[Kind], timepoints: Mapping[str, str]
) -> list[tuple[Kind, list[PastRecord]]]:
    """Return every record of a patient as it stood at a moment, by kind, oldest first.

    A record counts as the patient's when it named this patient then, by itself or
    through the record it hangs on.
    """
    by_table = {kind.table: kind for kind in kinds}
    histories: dict[tuple[str, str], list[Change]] = defaultdict(list)
    for change in changes_of_rows(keys_of(patient, kinds)):
        histories[change.table, change.key].append(change)
    then = {key: row for key, list_ in histories.items() if (row := row_as_of(list_, at))}
    mine = {key: row for key, row in then.items() if _was_of(patient, key, then, by_table)}
    names = Names(timepoints)
    names.load((by_table[table].model, row) for (table, _), row in mine.items())
    found: dict[str, list[PastRecord]] = defaultdict(list)
    for (table, key), row in sorted(mine.items(), key=lambda item: int(item[0][1])):
        found[table].append(_past(by_table[table], int(key), row, names))
    return [(kind, found[kind.table]) for kind in kinds if found[kind.table]]


def record_as_of(
    kind: Kind, key: int, at: datetime, timepoints: Mapping[str, str]
) -> PastRecord | None:
    """Return one record as it stood at a moment; None before it was made."""
    row = row_as_of(changes_of_rows([(kind.table, str(key))]), at)
    if row is None:
        return None
    names = Names(timepoints)
    names.load([(kind.model, row)])
    return _past(kind, key, row, names)


def _was_of(
    patient: Patient,
    key: tuple[str, str],
    then: Mapping[tuple[str, str], Mapping[str, Any]],
    kinds: Mapping[str, Kind],
) -> bool:
    """Whether a record was this patient's then, walking up to the row that says so."""
    table, row = key[0], then.get(key)
    if table == Patient._meta.db_table:
        return key[1] == str(patient.pk)
    if row is None:
        return False
    if kinds[table].model is RecordTransfer:
        return patient.pk in (row["from_patient_id"], row["to_patient_id"])
    parents = kinds[table].parents
    if not parents:
        return bool(row.get("patient_id") == patient.pk)
    column: Any = kinds[table].model._meta.get_field(parents[0])
    above = (column.related_model._meta.db_table, str(row.get(column.column)))
    return _was_of(patient, above, then, kinds)


def _past(kind: Kind, key: int, row: Mapping[str, Any], names: Names) -> PastRecord:
    return PastRecord(
        kind=kind,
        key=key,
        title=kind.title(row, names),
        values=told_values(kind, row, names),
        not_recorded=tuple(f.label for f in kind.fields_for(row) if not f.is_told(row)),
        set_aside=row["void_reason"] if row.get("voided_at") else "",
    )
