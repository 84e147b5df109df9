"""Writing follow-up: contacts are scheduled, tried, held, and end."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.utils import timezone

from register.domain.days import day_words
from register.domain.protocol import ProtocolValues
from register.domain.timepoints import Contact, schedule
from register.history import acting
from register.models import Attempt, Fracture, Patient, Procedure, Review, Score, User
from register.selectors.protocols import values_in_force
from register.services.drafts import draft_drop
from register.services.editing import update_row
from register.services.receipts import form_take

# What the history notes beside an amendment for which no reason was given.
AMENDED = "Contact amended"
_DAYS = ("anchor_on", "opens_on", "target_on", "closes_on")


@dataclass(frozen=True, slots=True)
class ScoreEntry:
    """What was given for one instrument: a value, or a code of ABSENT when there is none."""

    value: int | None
    absent: str = ""
    unlikely_reason: str = ""


def reviews_schedule(
    *,
    patient: Patient,
    anchor_on: date,
    user: User,
    procedure: Procedure | None = None,
    fracture: Fracture | None = None,
    protocol_values: ProtocolValues | None = None,
) -> list[Review]:
    """Schedule the contacts that the protocol asks for, once per procedure or decision.

    Give the procedure, or the fracture for conservative care. Calling it again
    adds nothing; a corrected anchor day moves the windows. Open contacts of
    conservative care end when the same fracture is treated. Without
    `protocol_values` the protocol in force on the anchor day is used.
    """
    values = protocol_values or values_in_force(site=patient.site, on=anchor_on)
    with acting(user, "Follow-up scheduled"):
        # One at a time: two calls for one patient must not both find nothing.
        Patient.objects.select_for_update().get(pk=patient.pk)
        following = Review.objects.live().filter(procedure=procedure)
        if procedure is None:
            following = following.filter(fracture=fracture)
        found = {review.timepoint: review for review in following}
        reviews = []
        for contact in schedule(anchor_on, values.timepoints):
            review = found.get(contact.timepoint.code) or Review(
                patient=patient,
                procedure=procedure,
                fracture=None if procedure else fracture,
                timepoint=contact.timepoint.code,
            )
            _place(review, contact, anchor_on)
            reviews.append(review)
        if procedure is not None:
            _end_conservative_contacts(procedure)
    return reviews


def _place(review: Review, contact: Contact, anchor_on: date) -> None:
    """Put a contact on its days: a new one is saved, an existing one moved if they differ."""
    before = [getattr(review, name) for name in _DAYS]
    review.anchor_on, review.opens_on = anchor_on, contact.opens_on
    review.target_on, review.closes_on = contact.target_on, contact.closes_on
    if review.pk is None:
        review.full_clean()
        review.save()
    elif before != [getattr(review, name) for name in _DAYS]:
        update_row(review, expected_version=review.version, fields=_DAYS)


def _end_conservative_contacts(procedure: Procedure) -> None:
    """Void the open contacts of conservative care of the fractures that were now treated."""
    treated = procedure.levels.live().values("fracture")
    waiting = Review.objects.live().filter(procedure=None, fracture__in=treated, held_on=None)
    for review in waiting.filter(target_on__gte=procedure.performed_on):
        review.voided_at = timezone.now()
        review.void_reason = "Treated; followed from the procedure instead."
        update_row(review, expected_version=review.version, fields=["voided_at", "void_reason"])


def review_record(
    *,
    review: Review,
    expected_version: int,
    scores: Mapping[str, ScoreEntry],
    fields: Mapping[str, Any],
    token: str,
    user: User,
    reason: str = "",
) -> Review:
    """Record a contact that took place, or amend one; earlier values stay in the history.

    `reason` says why one is amended. `scores` are by instrument, `fields` are those of
    Review. Raises AlreadyTaken when this very form was saved before, EditConflict when
    somebody else saved the contact since `expected_version`, ValidationError.
    """
    content = {"review": review.pk, "scores": scores, "fields": fields}
    with acting(user, (reason.strip() or AMENDED) if review.held_on else "Contact recorded"):
        form_take(token=token, content=content, user=user)
        for name, value in fields.items():
            setattr(review, name, value)
        review.recorded_by = review.recorded_by or user
        changed = [*fields, "recorded_by"]
        update_row(review, expected_version=expected_version, fields=changed)
        stored = {score.instrument: score for score in review.scores.live()}
        for instrument, entry in scores.items():
            score = stored.get(instrument) or Score(review=review, instrument=instrument)
            _score_save(score, entry)
        draft_drop(user=user, form=draft_name(review))
    return review


def _score_save(score: Score, entry: ScoreEntry) -> None:
    absent = {"value": entry.absent} if entry.absent else {}
    given = (entry.value, absent, entry.unlikely_reason)
    if score.pk and (score.value, score.absent, score.unlikely_reason) == given:
        return
    score.value, score.absent, score.unlikely_reason = given
    if score.pk is None:
        score.full_clean()
        score.save()
    else:
        update_row(
            score,
            expected_version=score.version,
            fields=["value", "absent", "unlikely_reason"],
        )


def draft_name(review: Review) -> str:
    """Return the name under which unfinished typing for a contact is kept."""
    return f"review:{review.pk}"


def attempt_record(*, review: Review, token: str, user: User, **fields: Any) -> Attempt:
    """Record a try to reach somebody. Raises AlreadyTaken for the same form sent again."""
    with acting(user, "Attempt recorded"):
        form_take(token=token, content={"review": review.pk, **fields}, user=user)
        attempt = Attempt(review=review, made_by=user, **fields)
        attempt.full_clean()
        attempt.save()
    return attempt


def _held_after(patient: Patient, day: date | None) -> Review | None:
    return Review.objects.live().filter(patient=patient, held_on__gt=day).first()


def follow_up_end(
    *,
    patient: Patient,
    expected_version: int,
    end: str,
    ended_on: date | None,
    source: str,
    user: User,
) -> Patient:
    """Record how a patient's follow-up ended; a blank `end` with no day takes it back.

    For "dead" the day is the day of death and becomes the patient's; changing
    the end from "dead" to something else removes it. Raises EditConflict, and
    ValidationError, also when a contact was held after the day of death.
    """
    if end == "dead" and (held := _held_after(patient, ended_on)):
        raise ValidationError(
            {
                "ended_on": f"A contact was held on {day_words(held.held_on)}, after that day. "
                "Correct this day, or the contact first."
            }
        )
    if end == "dead":
        patient.date_of_death = ended_on
    elif patient.follow_up_end == "dead":
        patient.date_of_death = None
    patient.follow_up_end, patient.follow_up_ended_on = end, ended_on
    patient.follow_up_end_source = source
    names = ["follow_up_end", "follow_up_ended_on", "follow_up_end_source", "date_of_death"]
    with acting(user, "Follow-up ended" if end else "Follow-up goes on"):
        update_row(patient, expected_version=expected_version, fields=names)
    return patient
