"""How far guessing a passphrase gets, and whether it locks colleagues out.

Somebody at the hospital's shared address tries one name again and again, with a
forwarded-for header of his own invention, and then the names of everybody else.
"""

from collections.abc import Callable
from typing import Final

from axes.models import AccessAttempt
from django.conf import settings
from django.db.models import Sum

from register.drills._sign_in import PASSPHRASE, address_of, make_person, make_site, sign_in

RUNS: Final = 10_000
SHARED: Final = address_of(77)
COLLEAGUES: Final = 20


def run(*, runs: int, seed: int, say: Callable[[str], None]) -> bool:
    """Guess `runs` times; True when the limit held and no colleague was locked out."""
    site = make_site()
    for number in range(COLLEAGUES):
        make_person(f"drill-colleague-{number}", site)
    make_person("drill-victim", site)
    for number in range(runs):
        forged = address_of(1000 + number)
        sign_in("drill-victim", f"guess {number}", SHARED, X_Forwarded_For=forged)
    tried = AccessAttempt.objects.filter(username="drill-victim")
    checked = tried.aggregate(sum=Sum("failures_since_start"))["sum"] or 0
    late = sign_in("drill-victim", PASSPHRASE, SHARED)
    elsewhere = sign_in("drill-victim", PASSPHRASE, address_of(78))
    colleagues = [
        sign_in(f"drill-colleague-{number}", PASSPHRASE, SHARED) for number in range(COLLEAGUES)
    ]
    out = sum(not answer.is_in for answer in colleagues)
    gain = max(0, checked - settings.AXES_FAILURE_LIMIT)
    say(f"{runs} guesses, {checked} compared with the passphrase, gain from the header {gain}")
    say(f"colleagues at the same address locked out {out} of {COLLEAGUES}")
    say(f"the person at another address: {'in' if elsewhere.is_in else 'locked out'}")
    return not gain and not out and not late.is_in and elsewhere.is_in
