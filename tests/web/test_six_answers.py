"""0, nothing, and four reasons are six answers to every score: asked, stored and counted apart."""

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils.timezone import localdate

from register.domain.vocabulary import ABSENT, codes
from register.history import acting
from register.models import Review
from tests.factories import (
    make_fracture,
    make_patient,
    make_procedure,
    make_referral,
    make_review,
    make_technique,
)
from tests.web.people import make_people

TODAY = localdate()


@pytest.fixture
def people(db):
    with acting("test"):
        return make_people()


def contact(people) -> Review:
    with acting("test"):
        referral = make_referral(make_patient(people.site), onset_on=None, onset_precision="")
        procedure = make_procedure(
            make_fracture(referral),
            make_technique(people.site),
            people.users["consultant"],
            performed_on=TODAY - timedelta(20),
        )
        return make_review(procedure)


def send(client, review: Review, answer: str) -> tuple[Any, list[str]]:
    """Give the same answer to every score of a contact."""
    address = reverse("review", args=[review.pk])
    form = client.get(address).context["form"]
    sent = {
        "token": form["token"].value(), "version": form["version"].value(), "mode": "telephone",
        "informant": "patient", "held_on_day": TODAY.day, "held_on_month": TODAY.month,
        "held_on_year": TODAY.year, "red_flag_check": "none",
    }  # fmt: skip
    for code in form.entry.asked:
        sent |= {code: "0"} if answer == "0" else {f"{code}_absent": answer}
    return client.post(address, sent), list(form.entry.asked)


def test_six_answers_to_every_score_are_never_confused(people):
    client, confused, asked = people.client("nurse"), [], []
    for answer in ("0", *codes(ABSENT)):
        review = contact(people)
        sent, asked = send(client, review, answer)
        assert sent.status_code == 302, (answer, sent.text[:300])
        stored = {score.instrument: score for score in review.scores.live()}
        for code in asked:
            score = stored[code]
            given = "0" if score.value == 0 else score.absent.get("value")
            alone = (score.value is None) == bool(score.absent)
            if given != answer or not alone:
                confused.append((code, answer, score.value, score.absent))
    blank = contact(people)
    sent, _ = send(client, blank, "")
    assert sent.status_code == 422
    assert sent.text.count("or choose why there is none") >= len(asked)
    assert not blank.scores.exists()
    assert len(asked) >= 8
    print(f"6 answers x {len(asked)} scores = {6 * len(asked)}, confusions {len(confused)}")
    assert not confused
