"""Take in the largest file, the same again, and one that changes every row; time each step."""

import csv
import io
import os
import time
from collections.abc import Callable, Collection
from pathlib import Path
from typing import Any, Final, TypeVar

from django.db import connection
from django.utils.timezone import localdate

from register.history import acting
from register.models import FileImport, Site, User
from register.selectors.import_undo import undo_plan
from register.selectors.imports import Preview, preview_of
from register.services.import_undo import import_undo
from register.services.imports import import_confirm, import_keep
from reports.demo.referral_file import many_referrals

RUNS: Final = 10_000  # rows
LIMIT_S: Final = 20.0  # for so many rows, on a machine that does nothing else; our own aim
_CHANGED: Final = "Care home"
_LEFT_OUT: Final = ("Address", "Practice")  # with them 10,000 rows are larger than a file may be
Found = TypeVar("Found")


def run(*, runs: int, seed: int, say: Callable[[str], None]) -> bool:
    """Tell the seconds of each step; True when the file was within the limit and all is right."""
    text = _without(_LEFT_OUT, many_referrals(runs, today=localdate(), seed=seed))
    say(f"{runs:,} rows, {len(text.encode()) / 1024 / 1024:.1f} MB; load {os.getloadavg()[0]:.1f}.")
    with acting("drill"):
        site = Site.objects.create(name="Harrowmere Drill", code="harrowmere-drill")
        user = User.objects.create(username="drill.consultant", role="consultant", site=site)
    whole, first = _taken_in("a new file", text, user, say)
    _, again = _taken_in("the same file again", text, user, say)
    _, changed = _taken_in("a file that changes every row", _with_changes(text), user, say)
    undone = _undone(changed[0], user, say)
    left_out = len(first[1].refused)
    right = (
        first[1].counts["new"] + left_out == runs
        and again[1].counts["same"] + left_out == runs
        and changed[1].counts["changed"] + left_out == runs
        and undone.left_by_undo == []
    )
    limit = LIMIT_S * max(runs / RUNS, 0.1)
    say(f"{left_out} rows left out; the new file in {whole:.1f} s, the limit is {limit:.0f} s.")
    return right and whole <= limit


def _taken_in(
    name: str, text: str, user: User, say: Callable[[str], None]
) -> tuple[float, tuple[FileImport, Preview]]:
    """Keep, preview and confirm a file as its page does; return the seconds and what became."""
    assert user.site is not None
    began, day = time.monotonic(), localdate()
    kept = _timed(f"{name}: read", say, lambda: import_keep(
        site=user.site, user=user, file_name="large.csv", content=text.encode(),
        date_order="dmy", today=day,
    ))  # fmt: skip
    preview = _timed("  compared", say, lambda: preview_of(kept, today=day))
    if preview.to_write:
        written: list[int] = []
        _timed("  confirmed", say, lambda: import_confirm(
            kept=kept, user=user, seen=preview.seal, today=day,
            say=lambda done, total: written.append(total),
        ))  # fmt: skip
        say(f"  {written[-1]:,} records in {len(written)} steps of progress")
    kept.refresh_from_db(fields=["confirmed_at", "transaction_id"])
    return time.monotonic() - began, (kept, preview)


def _undone(kept: FileImport, user: User, say: Callable[[str], None]) -> FileImport:
    seen = _timed("undo: shown", say, lambda: undo_plan(kept)).seal
    return _timed(
        "  done", say, lambda: import_undo(kept=kept, user=user, reason="Drill", seen=seen)
    )


def _without(names: Collection[str], text: str) -> str:
    rows = list(csv.reader(io.StringIO(text, newline="")))
    kept, sheet = (
        [n for n, name in enumerate(rows[0]) if name not in names],
        io.StringIO(newline=""),
    )
    csv.writer(sheet).writerows([row[n] for n in kept] for row in rows)
    return sheet.getvalue()


def _with_changes(text: str) -> str:
    rows = list(csv.reader(io.StringIO(text, newline="")))
    place, sheet = rows[0].index(_CHANGED), io.StringIO(newline="")
    for number, row in enumerate(rows[1:]):
        row[place] = f"Larch House, room {number}"
    csv.writer(sheet).writerows(rows)
    return sheet.getvalue()


def _timed(name: str, say: Callable[[str], None], work: Callable[[], Found]) -> Found:
    """Do something and tell how long it took: by the clock, and as work of both processes."""
    clock, own, server = time.monotonic(), time.process_time(), _server_s()
    found = work()
    now = [time.monotonic() - clock, time.process_time() - own, _server_s() - server]
    say(f"{name:<40}{now[0]:6.1f} s; work of this program {now[1]:.1f} s, of the database "
        f"{now[2]:.1f} s")  # fmt: skip
    return found


def _server_s() -> float:
    """Return the processor time of our connection's server process; 0 where it runs elsewhere."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_backend_pid()")
        number: Any = cursor.fetchone()[0]
    try:
        told = Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 0.0
    return (int(told[11]) + int(told[12])) / os.sysconf("SC_CLK_TCK")
