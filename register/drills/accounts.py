"""Whether the sign-in page tells if an account exists: by its words, or by its time.

Wrong passphrases for an open account, a closed one and a name that nobody has, in
random order, each try from an address of its own so that no lock gets in the way.
The bound of 5 % between medians is a requirement of this register, not published.
"""

import random
from collections.abc import Callable
from statistics import median
from typing import Final

from register.drills._sign_in import Answer, address_of, make_person, make_site, sign_in

RUNS: Final = 500
MOST: Final = 0.05  # part of the median by which another median may differ
NAMES: Final = {"open": "drill-open", "closed": "drill-shut", "nobody": "drill-none"}


def run(*, runs: int, seed: int, say: Callable[[str], None], most_difference: float = MOST) -> bool:
    """Try each kind of name `runs` times; True when neither words nor time tell them apart."""
    site = make_site()
    make_person(NAMES["open"], site)
    make_person(NAMES["closed"], site, is_active=False)
    answers = _tried(runs, random.Random(seed))
    bodies = {answer.body for found in answers.values() for answer in found}
    medians = {kind: median(a.seconds for a in found) for kind, found in answers.items()}
    gap = max(abs(medians[kind] / medians["nobody"] - 1) for kind in ("open", "closed"))
    for kind, seconds in medians.items():
        say(f"{kind:<8} {len(answers[kind])} tries, median {seconds * 1000:.1f} ms")
    say(f"different pages {len(bodies) - 1}, largest difference of medians {gap:.1%}")
    return len(bodies) == 1 and gap < most_difference


def _tried(runs: int, dice: random.Random) -> dict[str, list[Answer]]:
    order = [kind for kind in NAMES for _ in range(runs)]
    dice.shuffle(order)
    sign_in(NAMES["nobody"], "not this one", address_of(1))  # the first request loads the page
    answers: dict[str, list[Answer]] = {kind: [] for kind in NAMES}
    for number, kind in enumerate(order, start=2):
        answers[kind].append(sign_in(NAMES[kind], "not this one", address_of(number)))
    return answers
