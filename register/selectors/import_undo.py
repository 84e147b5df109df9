"""What undoing an import would do, row by row, and what it must leave alone.

Made rows are voided, changed rows get their former values back. A row is left when
somebody changed it since, or attached something to it that lives. A row that is left
keeps what it belongs to (its patient, its referral), and what this import wrote as a
part of it. Changes of later imports that were undone themselves do not count.
"""

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from django.apps import apps
from django.db import connection
from django.db.models import Model

from register.domain.days import day_words
from register.history.kinds import Kind
from register.history.names import Names
from register.history.reading import exact
from register.models import FileImport
from register.models.base import Record
from register.selectors.import_provenance import IMPORTED, UNDONE

# What is a part of what: a part stays, or goes, with its whole.
PARTS: Final = {
    "patientphone": "patient",
    "referraldrug": "referral",
    "fracture": "referral",
    "score": "review",
    "treatedlevel": "procedure",
    "complication": "procedure",
    "review": "procedure",
    "cementuse": "level",
    "leak": "level",
}
# What keeps a changed row as it is while it stays itself, without being a part of it: a
# fracture that was treated does not wait again.
KEEPS: Final = frozenset({("treatedlevel", "fracture")})
Key = tuple[str, int]  # model name, primary key

# What a confirmation wrote lies in the log between the arrival of the file and its own note,
# the last thing that the transaction wrote.
_MINE: Final = """
WITH span AS (
    SELECT min(id) AS first,
           max(id) FILTER (WHERE transaction_id = %(transaction)s AND reason = %(reason)s) AS last
    FROM audit.change_log WHERE table_name = 'register_fileimport' AND row_key = %(file)s
), mine AS (
    SELECT log.* FROM audit.change_log log, span
    WHERE log.id BETWEEN span.first AND span.last AND log.transaction_id = %(transaction)s
      AND log.reason = %(reason)s AND log.table_name <> 'register_fileimport'
)
"""
_WROTE: Final = f"""{_MINE}
SELECT table_name, operation, row_key,
       CASE operation WHEN 'UPDATE' THEN old_row END, CASE operation WHEN 'UPDATE' THEN new_row END
FROM mine ORDER BY id
"""
_LATER: Final = f"""{_MINE}
SELECT later.table_name, later.row_key, later.actor, later.at, later.reason, later.new_row,
       mine.new_row
FROM mine
JOIN audit.change_log later ON later.table_name = mine.table_name
 AND later.row_key = mine.row_key AND later.id > mine.id
WHERE NOT (later.transaction_id = %(transaction)s AND later.reason = %(reason)s)
ORDER BY later.id, mine.id
"""


@dataclass(frozen=True, slots=True)
class Restored:
    """A row that gets former values back: the row before and after, as the history has them."""

    key: Key
    before: Mapping[str, Any]
    after: Mapping[str, Any]

    @property
    def values(self) -> dict[str, Any]:
        """The columns that come back, with their former values."""
        return {
            name: value
            for name, value in self.before.items()
            if name != "version" and value != self.after.get(name)
        }


@dataclass(slots=True)
class UndoPlan:
    """All that an undo would do, and what it leaves with the reason."""

    voided: list[Key] = field(default_factory=list)
    restored: list[Restored] = field(default_factory=list)
    left: dict[Key, str] = field(default_factory=dict)

    @property
    def seal(self) -> str:
        """A digest of the plan; sent back with the confirmation."""
        told = [self.voided, [r.key for r in self.restored], sorted(self.left.items())]
        return hashlib.sha256(repr(told).encode()).hexdigest()[:32]

    @property
    def does_something(self) -> bool:
        """Whether anything can be undone."""
        return bool(self.voided or self.restored)

    def keys_of(self, kind: str) -> list[Key]:
        """Return the rows that are "voided", "restored" or "left", in a fixed order."""
        found = {
            "voided": self.voided,
            "restored": [row.key for row in self.restored],
            "left": sorted(self.left),
        }
        return found.get(kind, [])


def kind_words(model: str) -> str:
    """Return the name of a kind of record as people say it."""
    return _KIND_WORDS.get(model) or str(apps.get_model("register", model)._meta.verbose_name)


_KIND_WORDS: Final = {
    "patientphone": "telephone number",
    "referraldrug": "blood thinner",
    "laboratoryresult": "blood value",
    "review": "follow-up contact",
    "theatrelogentry": "line of the theatre log",
    "treatedlevel": "treated level",
    "cementuse": "cement",
}


def undo_plan(kept: FileImport) -> UndoPlan:
    """Return what undoing a confirmed import would do as the register stands now."""
    which = _which(kept)
    made, changed = _wrote(which)
    left = {key: why for key, why in _edited_since(which).items() if key in made or key in changed}
    children = _children(made, changed, kept)
    for parent, child, what in children:
        if child not in made:
            left.setdefault(parent, f"{what} was added to it")
    _spread(left, made, changed, children)
    return UndoPlan(
        voided=[key for key in made if key not in left],
        restored=[row for key, row in changed.items() if key not in left],
        left=left,
    )


def former_words(restored: Restored) -> str:
    """Return "pain on movement: 6 → 8" for each value that comes back, in the record's order."""
    model = apps.get_model("register", restored.key[0])
    kind = Kind(restored.key[0], model, "", "", title=lambda row, names: "")
    names = Names()
    names.load([(model, restored.before), (model, restored.after)])
    told = [
        (one.label, one.said(restored.after, names), one.said(restored.before, names))
        for one in kind.fields_for(restored.before)
    ]
    words = [f"{label}: {now} → {former}" for label, now, former in told if now != former]
    return "; ".join(words) or "nothing that is shown"


def _which(kept: FileImport) -> dict[str, Any]:
    return {
        "file": str(kept.pk),
        "transaction": kept.transaction_id,
        "reason": f"{IMPORTED}{kept.pk}",
    }


def _wrote(which: Mapping[str, Any]) -> tuple[dict[Key, None], dict[Key, Restored]]:
    """Return the rows made, and the rows changed with the values that they had before.

    A contact that became another version with its scores is not itself changed.
    """
    names = _model_names()
    made: dict[Key, None] = {}
    changed: dict[Key, Restored] = {}
    with connection.cursor() as cursor:
        cursor.execute(_WROTE, which)
        for table, operation, row_key, old_row, new_row in cursor.fetchall():
            key = (names[table], int(row_key))
            if operation == "INSERT":
                made[key] = None
            elif key not in made:
                old, new = exact(old_row) or {}, exact(new_row) or {}
                earlier = changed.get(key)
                changed[key] = Restored(key, earlier.before if earlier else old, new)
    return made, {key: row for key, row in changed.items() if row.values}


def _edited_since(which: Mapping[str, Any]) -> dict[Key, str]:
    """Return the rows that somebody changed after the import, with who and when."""
    names, undone = _model_names(), _undone_reasons()
    later: dict[Key, list[Any]] = defaultdict(list)
    with connection.cursor() as cursor:
        cursor.execute(_LATER, which)
        for table, row_key, actor, at, reason, new_row, mine in cursor.fetchall():
            later[names[table], int(row_key)].append((actor, at, reason, new_row, mine))
    found = {}
    for key, changes in later.items():
        by_others = [
            one for one in changes if one[2] not in undone and not one[2].startswith(UNDONE)
        ]
        *_, last, mine = changes[-1]
        if by_others or _content(last) != _content(mine):
            actor, at, *_ = (by_others or changes)[-1]
            found[key] = f"{actor} changed it on {day_words(at.date())}"
    return found


def _content(row: str | None) -> dict[str, Any]:
    return {name: value for name, value in (exact(row) or {}).items() if name != "version"}


def _is_undone(reason: str, undone: set[str]) -> bool:
    return reason in undone or reason.startswith(UNDONE)


def _undone_reasons() -> set[str]:
    """Return how the history names what imports wrote that were undone later."""
    numbers = FileImport.objects.exclude(undone_at=None).values_list("pk", flat=True)
    return {f"{IMPORTED}{number}" for number in numbers}


def _children(
    made: Mapping[Key, None], changed: Mapping[Key, Any], kept: FileImport
) -> list[tuple[Key, Key, str]]:
    """Return (parent, child, what) for each live row that hangs on a row of the import.

    On a row that was only changed hang its parts and what keeps it as it is, and of these
    only those that are the import's own or came after it.
    """
    found = []
    for parents, only_parts in ((made, False), (changed, True)):
        for model, numbers in _by_model(parents).items():
            for relation in apps.get_model("register", model)._meta.related_objects:
                child = relation.related_model
                if not _counts(child):
                    continue
                name, column = child._meta.model_name or "", relation.field.attname
                if only_parts and not _holds(name, relation.field.name):
                    continue
                rows = child._base_manager.filter(
                    **{f"{column}__in": numbers, "voided_at": None}
                ).values_list(column, "pk", "created_at")
                what = kind_of(child)
                found += [
                    ((model, parent), (name, pk), what)
                    for parent, pk, created_at in rows
                    if not only_parts or (name, pk) in made or created_at > kept.confirmed_at
                ]
    return found


def _holds(child: str, field: str) -> bool:
    return PARTS.get(child) == field or (child, field) in KEEPS


def _counts(child: type[Model]) -> bool:
    """Whether a row of this kind keeps what it hangs on.

    What the rules derive does not, nor does a line of the log that was found to be it.
    """
    return issubclass(child, Record) and not child.IS_DERIVED and not child.IS_BESIDE


def kind_of(model: type[Model]) -> str:
    """Return "a decision", "an implant": one record of a kind."""
    words = _KIND_WORDS.get(model._meta.model_name or "") or str(model._meta.verbose_name)
    return f"{'an' if words[0] in 'aeiou' else 'a'} {words}"


def _spread(
    left: dict[Key, str],
    made: Mapping[Key, None],
    changed: Mapping[Key, Any],
    children: Iterable[tuple[Key, Key, str]],
) -> None:
    """Leave what a left row belongs to, and its parts, until nothing more is to be left."""
    up, down = defaultdict(list), defaultdict(list)
    for parent, child, what in children:
        up[child].append((parent, what))
        if (child in made and PARTS.get(child[0]) == parent[0]) or _is_level_part(parent, child):
            down[parent].append(child)
    waiting = list(left)
    while waiting:
        key = waiting.pop()
        for parent, what in up[key]:
            if parent not in left and (parent in made or parent in changed):
                left[parent] = f"{what} that belongs to it is left"
                waiting.append(parent)
        for child in down[key]:
            if child not in left:
                left[child] = f"it is part of a {kind_words(key[0])} that is left"
                waiting.append(child)


def _is_level_part(parent: Key, child: Key) -> bool:
    return parent[0] == "treatedlevel" and PARTS.get(child[0]) == "level"


def _by_model(keys: Iterable[Key]) -> dict[str, list[int]]:
    found: dict[str, list[int]] = defaultdict(list)
    for model, number in keys:
        found[model].append(number)
    return found


def _model_names() -> dict[str, str]:
    return {model._meta.db_table: model._meta.model_name or "" for model in apps.get_models()}
