"""Thousands of hostile posts and addresses: no breakdown, and a refusal changes nothing."""

from collections import Counter
from collections.abc import Callable
from random import Random
from typing import Any, Final

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from register.drills._walk import (
    Found,
    changes_after,
    client_of,
    nobody,
    people,
    quiet,
    ready,
    taken_back,
    walk,
)
from register.services.receipts import newest_change

RUNS = 10_000
FRESH: Final = 200  # runs after which everybody signs in anew
SIGNED_OUT: Final = 0.05  # part of the posts that come after the session has ended
# What no box was made for; NUL cannot be stored by any database.
NASTY: Final = (
    "\x00", "\ufffe", "9" * 31, "-1", "1e999", "NaN", "٣", "７", "' OR 1=1 --",
    "<script>x</script>", "x" * 100_000, "{" * 500, "[]", "null", "2026-02-30", "\u202e", "None",
    "on", " ", "",
)  # fmt: skip
# Names by which addresses ask for something, and one that means nothing.
_ASKED: Final = ("page", "show", "fracture", "past", "before", "person", "at", "resume", "x")
_MULTIPART: Final = "multipart/form-data; boundary=x"


def run(*, runs: int, seed: int, say: Callable[[str], None]) -> bool:
    """Send `runs` posts and as many addresses; tell breakdowns and changes by refused posts."""
    ready(say)
    random = Random(seed)
    clients = {role: client_of(user) for role, user in people().items()}
    pages, forms = walk(clients)
    broken, changed = Counter[str](), Counter[str]()
    answers = Counter[int]()
    with quiet():
        for number in range(runs):
            if number % FRESH == 0:  # what a session saves is taken back: it would run out
                clients = {role: client_of(user) for role, user in people().items()}
            found = random.choice(forms)
            client = clients[found.role] if random.random() > SIGNED_OUT else nobody()
            status, changes = _post(client, found, random)
            answers[status] += 1
            broken[found.name] += status >= 500
            changed[found.name] += status >= 400 and changes > 0
            status = _get(clients[random.choice(sorted(clients))], random.choice(pages), random)
            broken["address"] += status >= 500
    broken, changed = +broken, +changed
    say(f"{runs} posts to {len(forms)} forms: {dict(sorted(answers.items()))}; {runs} addresses.")
    say(f"Broke down: {broken.total()} {dict(broken)}. Changed by a refused post: "
        f"{changed.total()} {dict(changed)}.")  # fmt: skip
    return not broken and not changed


def _post(client: Client, found: Found, random: Random) -> tuple[int, int]:
    """Send a form with some boxes spoilt; return the status and how much was changed."""
    with taken_back():
        before = newest_change()
        if random.random() < 0.03:
            answer: Any = client.generic("POST", found.form.action, b"--x\r\nbad", _MULTIPART)
        else:
            answer = client.post(found.form.action, _spoilt(found, random))
        return answer.status_code, len(changes_after(before))


def _spoilt(found: Found, random: Random) -> dict[str, Any]:
    """Return what the form would send, a few of its boxes filled with what does not belong."""
    sent = found.form.typed()
    names = [*found.form.kinds, "page", "version", "id"]
    for name in random.choices(names, k=random.randint(1, 4)):
        value = random.choice(NASTY)
        match random.randrange(5):
            case 0:
                sent[name] = [value, random.choice(NASTY)]
            case 1:
                sent.pop(name, None)
            case 2:
                sent[name] = SimpleUploadedFile("f.csv", value.encode(errors="ignore"))
            case _:
                sent[name] = value
    return sent


def _get(client: Client, address: str, random: Random) -> int:
    """Open an address with a query that nobody would type."""
    query = {random.choice(_ASKED): random.choice(NASTY)[:2000]}
    with taken_back():
        return int(client.get(address.partition("?")[0], query).status_code)
