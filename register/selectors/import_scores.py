"""What the register holds of the follow-up of the people in a file, and the verdicts."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any, Final

from django.db.models import Prefetch, QuerySet

from register.domain.days import day_words
from register.domain.protocol import ProtocolValues
from register.domain.timepoints import contact
from register.imports.people import KnownPeople
from register.imports.reading import ReadFile
from register.imports.scores.judging import judge
from register.imports.scores.known import KnownContact, KnownFollowed, KnownTreatment, Slot
from register.imports.scores.rows import ScoreRow
from register.imports.verdicts import Verdict
from register.imports.weighing import Recorded
from register.models import Patient, Referral, Review, Score, TreatedLevel
from register.selectors.import_people import (
    ByHand,
    people_as_recorded,
    people_meant,
    row_as_recorded,
)
from register.selectors.import_provenance import fields_by_hand
from register.selectors.outcomes import values_of_referral
from register.selectors.protocols import values_in_force_on
from register.selectors.review_pages import follows_words

_OF_REVIEW: Final = (
    "held_on",
    "mode",
    "informant",
    "informant_name",
    "red_flags",
    "red_flags_told",
    "red_flags_told_at",
    "note",
)
_OF_SCORE: Final = ("value", "absent")
Protocols = Mapping[date, ProtocolValues]


def judge_scores(site_id: int, file: ReadFile) -> tuple[Verdict, ...]:
    """Return the verdict on each row of a file of scores as the register stands now."""
    return judge(file, known_followed(site_id, file.rows))


def known_followed(site_id: int, rows: Sequence[ScoreRow]) -> KnownPeople[KnownFollowed]:
    """Return the patients whom rows may mean, with all their contacts.

    Twelve queries however many rows there are, one more for each link of the longest
    chain of records that were made one.
    """
    meant = people_meant(site_id, (row.patient for row in rows))
    patients: list[Any] = list(_with_contacts(meant))
    reviews = [review for patient in patients for review in patient.contacts]
    by_hand: ByHand = {
        Review: fields_by_hand(Review, [review.pk for review in reviews]),
        Score: fields_by_hand(Score, [score.pk for r in reviews for score in r.given]),
    }
    people = people_as_recorded(patients)
    protocols = values_in_force_on(site_id, (review.anchor_on for review in reviews))
    return KnownPeople.of(
        KnownFollowed(
            **people[patient.pk],
            treatments=tuple(_treatments(patient.contacts, protocols, by_hand)),
            **_of_referral(patient.written),
        )
        for patient in patients
    )


def _with_contacts(ids: Iterable[int]) -> QuerySet[Patient]:
    levels = TreatedLevel.objects.live().select_related("fracture")
    scores = Score.objects.live()
    reviews = (
        Review.objects.live()
        .select_related("procedure__technique", "fracture")
        .prefetch_related(
            Prefetch("procedure__levels", levels), Prefetch("scores", scores, to_attr="given")
        )
        .order_by("anchor_on", "target_on", "pk")
    )
    referrals = Referral.objects.live().order_by("referred_on", "pk")
    return Patient.objects.filter(pk__in=list(ids)).prefetch_related(
        Prefetch("reviews", reviews, to_attr="contacts"),
        Prefetch("referrals", referrals, to_attr="written"),
    )


def _of_referral(written: Sequence[Referral]) -> dict[str, Any]:
    """Return what the newest referral said, for the value before the first contact."""
    if not written:
        return {}
    told = values_of_referral(written[-1])
    return {
        "referral": {code: (said.value, said.told_on) for code, said in told.items()},
        "referred_on": written[-1].referred_on,
    }


def _treatments(
    reviews: Iterable[Any], protocols: Protocols, by_hand: ByHand
) -> Iterable[KnownTreatment]:
    """Yield each procedure and each decision that has contacts."""
    grouped: dict[tuple[int | None, int | None], list[Any]] = defaultdict(list)
    treated_on: dict[int | None, date] = {}
    for review in reviews:
        by_procedure = review.procedure_id is not None
        grouped[review.procedure_id, None if by_procedure else review.fracture_id].append(review)
        for level in review.procedure.levels.all() if by_procedure else ():
            earlier = treated_on.get(level.fracture_id, date.max)
            treated_on[level.fracture_id] = min(earlier, review.procedure.performed_on)
    for (procedure_id, fracture_id), own in grouped.items():
        first = own[0]
        ends_on = treated_on.get(fracture_id, date.max)
        yield KnownTreatment(
            procedure_id=procedure_id,
            fracture_id=fracture_id,
            anchor_on=first.anchor_on,
            words=f"{follows_words(first)}, of {day_words(first.anchor_on)}",
            levels=frozenset(_levels(first)),
            slots=tuple(_slots(own, protocols[first.anchor_on], ends_on, by_hand)),
        )


def _levels(review: Any) -> Iterable[str]:
    if review.procedure is not None:
        return [level.fracture.level for level in review.procedure.levels.all()]
    return [review.fracture.level] if review.fracture else []


def _slots(
    reviews: Sequence[Any], protocol: ProtocolValues, ends_on: date, by_hand: ByHand
) -> Iterable[Slot]:
    """Yield the contacts that are there, and those that the protocol knows and does not ask for.

    From `ends_on`, the day on which a fracture of conservative care is treated, its contacts
    follow the procedure.
    """
    titles = {timepoint.code: timepoint.title for timepoint in protocol.timepoints}
    for review in reviews:
        yield Slot(
            timepoint=review.timepoint,
            title=titles.get(review.timepoint, str(review)),
            opens_on=review.opens_on,
            target_on=review.target_on,
            closes_on=review.closes_on,
            contact=_contact(review, by_hand),
        )
    there = {review.timepoint for review in reviews}
    for timepoint in protocol.timepoints:
        if not timepoint.asked and timepoint.code not in there:
            days = contact(reviews[0].anchor_on, timepoint)
            if days.target_on < ends_on:
                yield Slot(
                    timepoint.code, timepoint.title, days.opens_on, days.target_on, days.closes_on
                )


def _contact(review: Any, by_hand: ByHand) -> KnownContact:
    return KnownContact(
        **row_as_recorded(review, _OF_REVIEW, by_hand),
        held_on=review.held_on,
        scores={
            score.instrument: Recorded(**row_as_recorded(score, _OF_SCORE, by_hand))
            for score in review.given
        },
    )
