"""Answers cut off before or after the commit, and the form sent again: nothing lost or doubled."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from random import Random
from typing import Any

from django.db import OperationalError, connection

from register.drills._entries import entries_of, new_entry
from register.drills._walk import changes_after, client_of, people, quiet, ready
from register.services.receipts import newest_change

RUNS = 200


def run(*, runs: int, seed: int, say: Callable[[str], None]) -> bool:
    """Cut and retry; tell how many entries were lost or doubled."""
    ready(say)
    random = Random(seed)
    clients = {role: client_of(user) for role, user in people().items()}
    kinds = entries_of(clients)
    lost = doubled = cut_before = 0
    with quiet():
        for number in range(runs):
            found = kinds[random.choice(sorted(kinds))]
            client = clients[found.role]
            sent = new_entry(client, found)
            before = newest_change()
            if number % 2:
                with cut_at_the_last_statement():
                    client.post(*sent)
                cut_before += not changes_after(before)
            else:
                client.post(*sent)  # saved, but the answer never arrived
            client.post(*sent)
            saves = {change[0] for change in changes_after(before)}
            lost += not saves
            doubled += len(saves) > 1
    say(
        f"{runs} answers cut ({cut_before} of them before the commit) and sent again: "
        f"{lost} lost, {doubled} doubled."
    )
    return lost == doubled == 0 and cut_before == runs // 2


@contextmanager
def cut_at_the_last_statement() -> Iterator[None]:
    """Let the database go away when the save is written and not yet kept."""

    def refuse(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        if sql.startswith('INSERT INTO "register_formreceipt"'):
            raise OperationalError("The connection was lost.")
        return execute(sql, params, many, context)

    with connection.execute_wrapper(refuse):
        yield
