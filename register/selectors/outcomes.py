"""Reading follow-up: what is due, what was given before, and how complete it is."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import (
    Case,
    Count,
    Exists,
    F,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Value,
    When,
)

from register.domain.days import day_words
from register.domain.names import similar_names
from register.domain.scores import INSTRUMENTS
from register.domain.timepoints import Timepoint
from register.domain.vocabulary import ABSENT, INSTRUMENT, MOBILITY, codes, words_for
from register.history.reading import changes_of_row
from register.models import Attempt, Referral, Review, Score, Site
from register.selectors.identity import newest_referral
from register.selectors.people import person_words

# How long before its window a contact shows as "soon": common practice, no source.
SOON = timedelta(days=14)
GROUPS = ("overdue", "due", "soon", "closed")
# The codes of ATTEMPT_OUTCOME after which nobody has been spoken to.
UNANSWERED = ("no_answer", "message", "wrong_number")
TRIES_BEFORE_LETTER = 3  # common practice, no source
DueReviews = QuerySet[Any]  # of Review, with `rank`: the place of its group in GROUPS


def reviews_of_site(site: Site) -> QuerySet[Review]:
    """Return the live contacts of the site's patients."""
    return Review.objects.live().filter(patient__site=site, patient__voided_at=None)


def due_reviews(*, site: Site, on: date) -> DueReviews:
    """Contacts to make, with `rank`: overdue, due, soon, window closed (GROUPS).

    The dead and those whose follow-up ended are left out, and so is a contact
    before the procedure once that day has passed: it cannot be made up for. So is one
    whose window had closed before its procedure was entered from a list.
    Nearest close of window first within each group.
    """
    return (
        _contacts_in_reach(site=site, on=on)
        .filter(patient__follow_up_end="", patient__date_of_death=None)
        .annotate(rank=_rank(on))
        .order_by("rank", "closes_on", "pk")
    )


def _contacts_in_reach(*, site: Site, on: date) -> QuerySet[Review]:
    passed = Q(target_on__lte=F("anchor_on"), closes_on__lt=on)
    unknown = Q(procedure__state="earlier", closes_on__lt=F("created_at__date"))
    in_reach = reviews_of_site(site).filter(held_on=None, opens_on__lte=on + SOON)
    return in_reach.exclude(passed).exclude(unknown)


def _rank(on: date) -> Case:
    """Number the states of register.domain.timepoints.ContactState by urgency."""
    return Case(
        When(opens_on__gt=on, then=Value(GROUPS.index("soon"))),
        When(target_on__gte=on, then=Value(GROUPS.index("due"))),
        When(closes_on__gte=on, then=Value(GROUPS.index("overdue"))),
        default=Value(GROUPS.index("closed")),
        output_field=IntegerField(),
    )


def due_filtered(
    reviews: DueReviews, *, group: str = "", timepoint: str = "", tried: str = ""
) -> DueReviews:
    """Narrow the due list. A blank group leaves out closed windows; `tried` is a mode or "none"."""
    if group == "closed":
        reviews = reviews.filter(rank=GROUPS.index("closed")).order_by("-closes_on", "-pk")
    elif group:
        reviews = reviews.filter(rank=GROUPS.index(group))
    else:
        reviews = reviews.filter(rank__lt=GROUPS.index("closed"))
    if timepoint:
        reviews = reviews.filter(timepoint=timepoint)
    attempts = Attempt.objects.live().filter(review=OuterRef("pk"))
    if tried == "none":
        return reviews.filter(~Exists(attempts))
    return reviews.filter(Exists(attempts.filter(mode=tried))) if tried else reviews


def due_counts(reviews: DueReviews) -> dict[str, int]:
    """Return how many contacts each group holds."""
    totals = reviews.aggregate(
        **{name: Count("pk", filter=Q(rank=place)) for place, name in enumerate(GROUPS)}
    )
    return {name: totals[name] for name in GROUPS}


def ended_counts(*, site: Site, on: date) -> dict[str, int]:
    """Return how many patients would be on the due list, had their follow-up not ended, by end."""
    dead = Q(patient__follow_up_end="dead") | ~Q(patient__date_of_death=None)
    people = _contacts_in_reach(site=site, on=on).aggregate(
        dead=Count("patient", filter=dead, distinct=True),
        **{
            end: Count("patient", filter=Q(patient__follow_up_end=end) & ~dead, distinct=True)
            for end in ("withdrawn", "moved", "unable", "lost")
        },
    )
    return {end: number for end, number in people.items() if number}


def similar_in(reviews: DueReviews) -> set[int]:
    """Return the numbers of the patients in the list whose names are easily mixed up."""
    names = reviews.order_by().values_list(
        "patient_id", "patient__family_name", "patient__given_name"
    )
    return similar_names(names.distinct())


@dataclass(frozen=True, slots=True)
class Previous:
    """The last value of an instrument before a contact, and where it comes from in words."""

    value: int
    told_on: str


def previous_scores(review: Review) -> dict[str, Previous]:
    """Return the last value of each instrument before this contact; the referral's if none."""
    found = _referral_values(review)
    earlier = Score.objects.live().filter(
        review__in=Review.objects.live().filter(
            patient=review.patient, held_on__isnull=False, target_on__lt=review.target_on
        ),
        value__isnull=False,
    )
    for score in earlier.select_related("review").order_by("review__held_on", "pk"):
        if score.value is not None:
            held_on = day_words(score.review.held_on)
            found[score.instrument] = Previous(int(score.value), held_on)
    return found


def _referral_values(review: Review) -> dict[str, Previous]:
    """Return what the newest referral said, if it was there before the treatment."""
    referral = newest_referral(review.patient)
    if referral is None or referral.referred_on > review.anchor_on:
        return {}
    return values_of_referral(referral)


def values_of_referral(referral: Referral) -> dict[str, Previous]:
    """Return what a referral said of pain on movement, analgesia and mobility, as digits."""
    steps = codes(MOBILITY)
    told = {
        "pain_moving": referral.pain_moving,
        "analgesic_step": int(referral.analgesic_step) if referral.analgesic_step else None,
        "mobility": len(steps) - 1 - steps.index(referral.mobility) if referral.mobility else None,
    }
    told_on = f"{day_words(referral.referred_on)}, referral"
    return {code: Previous(value, told_on) for code, value in told.items() if value is not None}


def instruments_asked(review: Review, timepoints: Mapping[str, Timepoint]) -> list[str]:
    """Return what a contact asks by the protocol, and what it has been given besides."""
    timepoint = timepoints.get(review.timepoint)
    asked = set(timepoint.instruments if timepoint else INSTRUMENTS)
    asked |= {score.instrument for score in review.scores.live()}
    return [code for code in codes(INSTRUMENT) if code in asked]


def failed_tries(attempts: list[Attempt]) -> int:
    """Return how many tries failed since somebody was last reached; newest attempt first."""
    failed = 0
    for attempt in attempts:
        if attempt.outcome not in UNANSWERED:
            break
        failed += 1
    return failed


@dataclass(frozen=True, slots=True)
class Amendment:
    """One change of a score after it was first recorded, in words."""

    at: datetime
    by: str
    words: str


def amendments_of(review: Review) -> list[Amendment]:
    """Return what was changed in the scores of a contact, oldest first, from the history."""
    found = []
    for score in review.scores.live().filter(version__gt=1):
        question = INSTRUMENTS[score.instrument].question
        for change in changes_of_row(score):
            if change.old and change.new:
                before, after = (
                    _told(score.instrument, change.old),
                    _told(score.instrument, change.new),
                )
                found.append(
                    Amendment(
                        change.at, person_words(change.actor), f"{question}: {before}, then {after}"
                    )
                )
    return sorted(found, key=lambda one: one.at)


def _told(instrument: str, row: dict[str, Any]) -> str:
    """Return the value of a row of the history in words, or why there was none."""
    if row["value"] is None:
        return words_for(ABSENT, row["absent"].get("value", ""))
    return INSTRUMENTS[instrument].words(Decimal(str(row["value"])))
