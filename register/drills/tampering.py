"""Alter the sealed history behind the register's back, and see whether each row is found."""

import time
from collections.abc import Callable
from random import Random
from typing import Any, Final

from django.db import connections, transaction
from django.utils import timezone

from register.history.anchors import Anchor
from register.history.chain import Check, check, extend

RUNS: Final = 200  # rows altered
ROWS: Final = 100_000  # in the history; the minutes for a million are extrapolated from it
SMALLEST: Final = 2_000

_FILL: Final = """
INSERT INTO audit.change_log (session_role, actor, actor_id, reason, transaction_id, table_name,
    operation, row_key, old_row, new_row)
SELECT 'app', 'nurse', 7, 'Contact amended', 1000 + n, 'register_score', 'UPDATE',
    (n %% 5000)::text,
    r || jsonb_build_object('value', 7.0), r || jsonb_build_object('value', 5.0)
FROM generate_series(1, %s) n, LATERAL (SELECT jsonb_build_object('id', n %% 5000, 'review_id', n,
    'instrument', 'pain_now', 'absent', '{}'::jsonb, 'unusual', '{}'::jsonb, 'version', n %% 9,
    'created_at', now(), 'void_reason', '', 'voided_at', NULL) AS r) x
"""
_ALTER: Final = {
    "value": "UPDATE audit.change_log SET new_row = new_row || '{\"value\": 1}' WHERE id = %s",
    "actor": "UPDATE audit.change_log SET actor = 'somebody else' WHERE id = %s",
    "reason": "UPDATE audit.change_log SET reason = reason || '.' WHERE id = %s",
    "time": "UPDATE audit.change_log SET at = at - interval '1 microsecond' WHERE id = %s",
    "deleted": "DELETE FROM audit.change_log WHERE id = %s",
}


def run(*, runs: int, seed: int, say: Callable[[str], None]) -> bool:
    """Alter, delete and insert `runs` rows, then rewrite a stretch of the chain as well."""
    owner, chance = connections["owner"], Random(seed)
    rows = ROWS if runs >= RUNS else SMALLEST
    with transaction.atomic(using="owner"):
        ask(owner, _FILL, rows)
        anchors, minutes = _sealed(owner, rows)
        whole = check(owner, anchors)
        started = time.monotonic()
        check(owner, [])
        minutes["check"] = _per_million(started, rows)
        guards(owner, on=False)
        found, altered = _alter_and_look(owner, runs, chance)
        seen = _rewrite_and_look(owner, anchors, chance)
        transaction.set_rollback(True, using="owner")
    say(f"{rows} rows untouched: {len(whole.findings)} findings.")
    say(f"Altered, deleted or inserted rows found: {found} of {altered}.")
    say(f"Chain rewritten together with the rows: {'seen by the anchors' if seen else 'NOT SEEN'}.")
    say(f"Minutes per million rows, extrapolated from {rows}: seal {minutes['seal']:.1f}, "
        f"check {minutes['check']:.1f}.")  # fmt: skip
    return whole.is_whole and found == altered and seen


def ask(connection: Any, statement: str, *values: Any) -> list[Any]:
    """Run one statement and return its rows."""
    with connection.cursor() as cursor:
        cursor.execute(statement, values or None)
        return cursor.fetchall() if cursor.description else []


def guards(connection: Any, *, on: bool) -> None:
    """Switch the owner's own guard off, as somebody with all rights could."""
    for table in ("change_log", "chain"):
        how = "ENABLE ALWAYS" if on else "DISABLE"
        ask(connection, f"ALTER TABLE audit.{table} {how} TRIGGER only_added_to")


def _sealed(owner: Any, rows: int) -> tuple[list[Anchor], dict[str, float]]:
    """Seal in two steps, as two nights would; return both anchors and how long it took."""
    first, last = ask(owner, "SELECT min(id), max(id) FROM audit.change_log")[0]
    started = time.monotonic()
    anchors = []
    for end in ((first + last) // 2, last):
        at, count, digest = extend(owner, upto=end)
        anchors.append(Anchor(timezone.now(), at, count, digest.hex()))
    return anchors, {"seal": _per_million(started, rows)}


def _per_million(started: float, rows: int) -> float:
    return (time.monotonic() - started) / rows * 1_000_000 / 60


def _alter_and_look(owner: Any, runs: int, chance: Random) -> tuple[int, int]:
    """Alter rows far enough apart to tell each one; return how many were found, of how many."""
    ids = [row[0] for row in ask(owner, "SELECT id FROM audit.change_log ORDER BY id")]
    altered = set()
    point = transaction.savepoint(using="owner")
    for key in chance.sample(ids[1:-1], runs):
        way = chance.choice([*_ALTER, "inserted"])
        altered.add(_insert_at(owner, key) if way == "inserted" else key)
        if way != "inserted":
            ask(owner, _ALTER[way], key)
    result: Check = check(owner, [])
    transaction.savepoint_rollback(point, using="owner")
    return len({f.number for f in result.findings} & altered), len(altered)


def _insert_at(owner: Any, key: int) -> int:
    """Put a forged row in the place of another one, which also loses that one."""
    ask(owner, "DELETE FROM audit.change_log WHERE id = %s", key)
    ask(owner, "INSERT INTO audit.change_log (id, session_role, actor, reason, transaction_id,"
        " table_name, operation, row_key) OVERRIDING SYSTEM VALUE"
        " VALUES (%s, 'app', 'nobody', '', 1, 'register_score', 'INSERT', '1')", key)  # fmt: skip
    return key


def _rewrite_and_look(owner: Any, anchors: list[Anchor], chance: Random) -> bool:
    """Alter one row and make the chain anew from there: only the anchors can tell."""
    point = transaction.savepoint(using="owner")
    between = "SELECT id FROM audit.change_log WHERE id > %s AND id < %s ORDER BY id"
    key = chance.choice(ask(owner, between, *(anchor.last_id for anchor in anchors)))[0]
    ask(owner, _ALTER["value"], key)
    ask(owner, "DELETE FROM audit.chain WHERE log_id >= %s", key)
    extend(owner, upto=anchors[1].last_id)
    result = check(owner, anchors)
    transaction.savepoint_rollback(point, using="owner")
    return not result.findings and [a for a, _ in result.unfit] == [anchors[1]]
