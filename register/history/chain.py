"""The hash chain over the history: what a superuser changed afterwards is at least seen.

Each sealed row of `audit.change_log` has a link in `audit.chain`:

    digest = SHA-256( digest of the row before || SHA-256( the row as canonical text ) )

Sealing runs now and then on the owner's connection, not in the trigger. The newest digest is
written outside the database as an anchor: whoever rewrites rows and chain together would have
to rewrite every copy of the anchors too.
"""

import hashlib
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from itertools import islice
from typing import Any, Final

from register.history.anchors import Anchor

BEGINNING: Final = bytes(32)
BATCH: Final = 10_000

# The text does not depend on a setting of the session; jsonb has one way to print a value.
ROW_DIGEST: Final = """pg_catalog.sha256(pg_catalog.convert_to(pg_catalog.jsonb_build_array(
    l.id, extract(epoch FROM l.at), l.session_role, l.actor, l.actor_id, l.reason,
    l.transaction_id, l.table_name, l.operation, l.row_key, l.old_row, l.new_row)::text, 'UTF8'))"""

ROWS = f"""SELECT l.id, {ROW_DIGEST} FROM audit.change_log l
WHERE l.id > %s AND l.id <= %s ORDER BY l.id"""

BOTH = f"""SELECT coalesce(l.id, c.log_id), CASE WHEN l.id IS NULL THEN NULL ELSE {ROW_DIGEST} END,
c.digest FROM (SELECT * FROM audit.change_log WHERE id <= %s) l
FULL JOIN audit.chain c ON c.log_id = l.id ORDER BY 1"""


class StillOpen(Exception):
    """A transaction that may yet add earlier rows did not end in time; nothing was sealed."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One place where history and chain differ: the row's number, and what is wrong there."""

    number: int
    words: str


@dataclass(slots=True)
class Check:
    """What a check saw. `unfit` are anchors that do not fit the chain, oldest first."""

    sealed: int = 0
    last_id: int = 0
    digest: bytes = BEGINNING
    not_sealed: int = 0
    findings: list[Finding] = field(default_factory=list)
    unfit: list[tuple[Anchor, str]] = field(default_factory=list)
    anchors: int = 0

    @property
    def is_whole(self) -> bool:
        """Whether nothing differs."""
        return not self.findings and not self.unfit


def link(before: bytes, row: bytes) -> bytes:
    """Return the digest of a row's link from the one before and the digest of the row."""
    return hashlib.sha256(before + row).digest()


def settled_end(connection: Any, *, wait_s: float, pause_s: float = 0.2) -> int:
    """Return the number up to which no row can appear any more.

    A row draws its number before its transaction commits, and transactions commit in any
    order. So: note the newest visible number, then take a transaction id. Every number up to
    that one was drawn by a transaction with a smaller id; when all of these have ended (the
    snapshot's xmin has come so far), what is not visible never will be. (The snapshot's xmax
    would not do: it is one past the newest transaction that has ended, not the next to begin.)
    Raises StillOpen when that takes longer than `wait_s` seconds.
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT coalesce(max(id), 0) FROM audit.change_log")
        end: int = cursor.fetchone()[0]
        cursor.execute("SELECT pg_current_xact_id()::text::bigint")
        ours = cursor.fetchone()[0]
        until = time.monotonic() + wait_s
        while True:
            cursor.execute("SELECT pg_snapshot_xmin(pg_current_snapshot())::text::bigint")
            if cursor.fetchone()[0] >= ours:
                return end
            if time.monotonic() >= until:
                raise StillOpen(
                    f"A transaction that began before was still open after {wait_s:g} s. "
                    "Nothing was sealed: run the command again."
                )
            time.sleep(pause_s)


def chain_end(connection: Any) -> tuple[int, int, bytes]:
    """Return number and digest of the last link, and how many links there are."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*), max(log_id) FROM audit.chain")
        count, last = cursor.fetchone()
        if not count:
            return 0, 0, BEGINNING
        cursor.execute("SELECT digest FROM audit.chain WHERE log_id = %s", [last])
        return last, count, bytes(cursor.fetchone()[0])


def extend(connection: Any, *, upto: int) -> tuple[int, int, bytes]:
    """Add links for the rows up to a number; return number, count and digest of the last link.

    Call it inside a transaction of the owner. Two calls wait for each other.
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(hashtext('history chain'))")
    last, count, digest = chain_end(connection)
    for batch in batched(streamed(connection, ROWS, [last, upto])):
        links = []
        for number, row in batch:
            digest = link(digest, bytes(row))
            links.append((number, digest))
        with (
            connection.cursor() as cursor,
            cursor.copy("COPY audit.chain (log_id, digest) FROM STDIN") as copy,
        ):
            for pair in links:
                copy.write_row(pair)
        last, count = links[-1][0], count + len(links)
    return last, count, digest


def check(connection: Any, anchors: Iterable[Anchor]) -> Check:
    """Recompute the chain, and compare it with itself, with the log and with the anchors.

    A changed row is found by its own link, so that each is named; a chain that was
    rewritten together with the log no longer fits the anchors made since.
    """
    known = sorted(anchors, key=lambda anchor: anchor.last_id)
    result = Check(anchors=len(known))
    with connection.cursor() as cursor:
        cursor.execute("SELECT coalesce(max(log_id), 0) FROM audit.chain")
        end = cursor.fetchone()[0]
        cursor.execute("SELECT count(*) FROM audit.change_log WHERE id > %s", [end])
        result.not_sealed = cursor.fetchone()[0]
    waiting = {anchor.last_id: anchor for anchor in known}
    for number, row, stored in streamed(connection, BOTH, [end]):
        _look_at(result, number, row, stored)
        if stored is not None and number in waiting:
            _compare(result, waiting.pop(number))
    result.unfit += [(anchor, "its last row is not in the chain") for anchor in waiting.values()]
    return result


def _look_at(result: Check, number: int, row: Any, stored: Any) -> None:
    """Judge one row with its link. The next row is judged from the stored link."""
    if stored is None:
        result.findings.append(Finding(number, "added after it was sealed"))
        return
    if row is None:
        result.findings.append(Finding(number, "gone"))
    elif link(result.digest, bytes(row)) != bytes(stored):
        result.findings.append(Finding(number, "changed, or the link before it was"))
    result.digest, result.last_id = bytes(stored), number
    result.sealed += 1


def _compare(result: Check, anchor: Anchor) -> None:
    if anchor.digest != result.digest.hex():
        result.unfit.append((anchor, "the chain has another digest there"))
    elif anchor.count != result.sealed:
        result.unfit.append((anchor, f"the chain has {result.sealed} rows up to there"))


def streamed(connection: Any, question: str, values: list[Any]) -> Iterator[Any]:
    """Yield the rows of a question without holding them all; inside a transaction."""
    connection.ensure_connection()
    with connection.connection.cursor(name="history_stream") as cursor:
        cursor.itersize = BATCH
        cursor.execute(question, values)
        yield from cursor


def batched(rows: Iterator[Any]) -> Iterator[list[Any]]:
    """Cut a stream into lists."""
    take: Callable[[], list[Any]] = lambda: list(islice(rows, BATCH))  # noqa: E731
    return iter(take, [])
