"""Every new entry sent twice, at once or one after the other: it must count once."""

from collections.abc import Callable
from random import Random
from typing import Any

from register.drills._entries import entries_of, new_entry
from register.drills._walk import (
    changes_after,
    client_of,
    people,
    quiet,
    ready,
    two_at_once,
)
from register.services.receipts import newest_change

RUNS = 1000


def run(*, runs: int, seed: int, say: Callable[[str], None]) -> bool:
    """Send each entry twice; tell how many rows there are too many, and what was not saved."""
    ready(say)
    random = Random(seed)
    clients = {role: client_of(user) for role, user in people().items()}
    kinds = entries_of(clients)
    extra = unsaved = elsewhere = 0
    missing: set[str] = set()
    with two_at_once() as both, quiet():
        for number in range(runs):
            found = kinds[random.choice(sorted(kinds))]
            client = clients[found.role]
            sent = new_entry(client, found)
            before = newest_change()
            if number % 2:
                answers = both(client.post, sent, sent)
            else:
                answers = [client.post(*sent), client.post(*sent)]
            saves = {change[0] for change in changes_after(before)}
            extra += len(saves) > 1
            if not saves:
                unsaved += 1
                missing.add(found.name)
            elsewhere += len({_where(answer) for answer in answers}) > 1
    say(f"{runs} double posts of {len(kinds)} forms: {extra} saved twice, {unsaved} not saved "
        f"{sorted(missing) or ''}, {elsewhere} led elsewhere the second time.")  # fmt: skip
    say(f"Forms: {', '.join(sorted(kinds))}.")
    return extra == unsaved == elsewhere == 0


def _where(answer: Any) -> str:
    return f"{answer.status_code} {answer.headers.get('Location', '')}"
