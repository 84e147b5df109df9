"""Two people save one record at the same moment: one wins, the other sees both values."""

from collections.abc import Callable
from html import unescape
from random import Random
from typing import Any

from django.urls import reverse

from register.drills._forms import form_at
from register.drills._walk import client_of, people, quiet, ready, two_at_once
from register.models import Patient

RUNS = 1000


def run(*, runs: int, seed: int, say: Callable[[str], None]) -> bool:
    """Race; tell how many first edits were lost unseen and how many losers saw both values."""
    ready(say)
    random, folk = Random(seed), people()
    pair = [client_of(folk["consultant"]), client_of(folk["nurse"])]
    rows = list(Patient.objects.live().filter(site=folk["nurse"].site).order_by("pk")[:20])
    overwritten = told = odd = 0
    with two_at_once() as both, quiet():
        for number in range(runs):
            patient = random.choice(rows)
            patient.refresh_from_db()
            address = reverse("patient-edit", args=[patient.pk])
            words = [f"Home {number} of the first", f"Home {number} of the second"]
            sent = [
                (address, form_at(client, address).typed(care_home=home))
                for client, home in zip(pair, words, strict=True)
            ]
            answers = both(lambda client, to: client.post(*to), *zip(pair, sent, strict=True))
            now = Patient.objects.get(pk=patient.pk)
            saved = [answer.status_code == 302 for answer in answers]
            if saved.count(True) != 1 or now.version != patient.version + 1:
                overwritten += saved == [True, True]
                odd += 1
                continue
            loser = saved.index(False)
            overwritten += now.care_home != words[1 - loser]
            told += _sees_both(answers[loser], words, words[loser])
    say(
        f"{runs} races: {overwritten} overwritten unseen; {told} losers shown both values, "
        f"with their typing kept; {odd} other endings."
    )
    return overwritten == 0 and odd == 0 and told == runs


def _sees_both(answer: Any, words: list[str], own: str) -> bool:
    """Whether a page tells both values and still holds one's own in its box."""
    page = unescape(answer.content.decode())
    told = all(f"<td>{one}</td>" in page for one in words)
    return answer.status_code == 422 and told and f'value="{own}"' in page
