"""What the page of one contact shows, and what the lines of the due list say."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Prefetch, QuerySet

from register.domain.days import age_years, day_words
from register.domain.protocol import ProtocolValues
from register.domain.scores import INSTRUMENTS
from register.models import Attempt, Patient, PatientPhone, Review, Score, TreatedLevel
from register.selectors.outcomes import (
    GROUPS,
    SOON,
    TRIES_BEFORE_LETTER,
    Amendment,
    Previous,
    amendments_of,
    failed_tries,
    instruments_asked,
    previous_scores,
)

_STATES = {
    "overdue": ("overdue", "triangle", "attention"),
    "due": ("due", "full", "action"),
    "soon": ("soon", "open", ""),
    "closed": ("window closed", "cross", "attention"),
}


def with_lines(reviews: QuerySet[Review]) -> QuerySet[Review]:
    """Fetch all that a line or page of contacts needs, whatever their number."""
    levels = TreatedLevel.objects.live().select_related("fracture")
    attempts = Attempt.objects.live().select_related("made_by")
    return reviews.select_related("patient", "procedure__technique", "fracture").prefetch_related(
        Prefetch("patient__phones", PatientPhone.objects.live().order_by("pk")),
        Prefetch("procedure__levels", levels),
        Prefetch("attempts", attempts),
    )


def follows_words(review: Review) -> str:
    """Return what a contact follows: "Balloon tamping, L1" or "conservative care, L1"."""
    if review.procedure is not None:
        levels = ", ".join(level.fracture.level for level in review.procedure.levels.all())
        return f"{review.procedure.technique}, {levels or 'level not recorded'}"
    return f"conservative care, {review.fracture.level if review.fracture else 'not recorded'}"


def title_of(review: Review, protocol: ProtocolValues) -> str:
    """Return the contact's name as the protocol gives it."""
    titles = {timepoint.code: timepoint.title for timepoint in protocol.timepoints}
    return titles.get(review.timepoint, str(review))


def days_left_words(review: Review, on: date) -> str:
    """Return how long the window is still open, or since when it is not; of a held one, how."""
    if review.held_on is not None:
        return held_words(review)
    if on < review.opens_on:
        return f"opens in {_days((review.opens_on - on).days)}"
    left = (review.closes_on - on).days
    if left < 0:
        return f"closed {_days(-left)} ago"
    return "closes today" if left == 0 else f"closes in {_days(left)}"


def held_words(review: Review) -> str:
    """Return whether a contact that was held lay in its window."""
    assert review.held_on is not None
    if review.held_on < review.opens_on:
        return "held early"
    return "held late" if review.held_on > review.closes_on else "held in the window"


def _days(number: int) -> str:
    return "1 day" if number == 1 else f"{number} days"


def phone_words(phone: PatientPhone) -> str:
    """Return a telephone with its kind, when to ring, and whether a message may be left."""
    answers: dict[bool | None, str] = {True: "message may be left", False: "leave no message"}
    message = answers.get(phone.message_allowed, "message: not asked")
    told = [phone.number, phone.get_kind_display(), phone.times, message]
    return ", ".join(word for word in told if word)


def attempt_words(attempts: list[Attempt]) -> str:
    """Return the newest try in words: what came of it, when, by whom, the next one."""
    if not attempts:
        return "not tried yet"
    last = attempts[0]
    told = f"{last.get_outcome_display()}, {day_words(last.made_at.date())}, {last.made_by}"
    return f"{told}; next try {day_words(last.next_try_on)}" if last.next_try_on else told


@dataclass(frozen=True, slots=True)
class DueRow:
    """One line of the due list, in words."""

    review_id: int
    name: str
    is_similar: bool
    age: str
    follows: str
    title: str
    opens: str
    closes: str
    left: str
    word: str
    shape: str
    tone: str
    last_try: str
    tries: str
    phones: list[str]


def due_rows(
    reviews: Iterable[Review], *, similar: set[int], protocol: ProtocolValues, on: date
) -> list[DueRow]:
    """Return the lines of contacts that were fetched by `with_lines` and carry their rank."""
    return [_due_row(review, review.patient_id in similar, protocol, on) for review in reviews]


def _due_row(review: Review, is_similar: bool, protocol: ProtocolValues, on: date) -> DueRow:
    patient, attempts = review.patient, list(review.attempts.all())
    word, shape, tone = _STATES[GROUPS[review.rank]]  # type: ignore[attr-defined]
    return DueRow(
        review_id=review.pk,
        name=str(patient),
        is_similar=is_similar,
        age=f"{age_years(patient.date_of_birth, on)} y",
        follows=follows_words(review),
        title=title_of(review, protocol),
        opens=day_words(review.opens_on),
        closes=day_words(review.closes_on),
        left=days_left_words(review, on),
        word=word,
        shape=shape,
        tone=tone,
        last_try=attempt_words(attempts),
        tries=tries_words(attempts),
        phones=[phone_words(phone) for phone in patient.phones.all()],
    )


def tries_words(attempts: list[Attempt]) -> str:
    """Return what failed tries suggest; "" while there are fewer than it takes."""
    failed = failed_tries(attempts)
    if failed < TRIES_BEFORE_LETTER:
        return ""
    return f"{failed} tries without an answer: write a letter."


@dataclass(frozen=True, slots=True)
class ReviewEntry:
    """A contact as its page asks for it. `asked` are instruments in order."""

    review: Review
    title: str
    follows: str
    asked: list[str]
    stored: dict[str, Score]
    previous: dict[str, Previous]
    amendments: list[Amendment]
    earliest: date | None
    latest: date
    latest_words: str

    @property
    def heading(self) -> str:
        """The name of the page: "Contact at 3 months", "Contact before the procedure"."""
        is_before = self.review.target_on <= self.review.anchor_on
        return f"Contact before {self.anchor_words}" if is_before else f"Contact at {self.title}"

    @property
    def anchor_words(self) -> str:
        """What the contact is counted from."""
        return "the procedure" if self.review.procedure_id else "the decision"

    def last_words(self, code: str) -> str:
        """Return the value before, with its day."""
        last = self.previous.get(code)
        if last is None:
            return "nothing before"
        return f"{INSTRUMENTS[code].words(last.value)}, {last.told_on}"


def review_entry(review: Review, *, protocol: ProtocolValues, on: date) -> ReviewEntry:
    """Read what the page of a contact needs. A contact before the anchor day ends with it."""
    is_before = review.target_on <= review.anchor_on
    died_on = review.patient.date_of_death
    limits = [(on, "today")]
    if is_before:
        limits.append(
            (review.anchor_on, "the procedure" if review.procedure_id else "the decision")
        )
    if died_on:
        limits.append((died_on, "the day of death"))
    latest, latest_words = min(limits)
    timepoints = {timepoint.code: timepoint for timepoint in protocol.timepoints}
    return ReviewEntry(
        review=review,
        title=title_of(review, protocol),
        follows=follows_words(review),
        asked=instruments_asked(review, timepoints),
        stored={score.instrument: score for score in review.scores.live()},
        previous=previous_scores(review),
        amendments=amendments_of(review),
        earliest=None if is_before else review.anchor_on,
        latest=latest,
        latest_words=latest_words,
    )


@dataclass(frozen=True, slots=True)
class DueSummary:
    """The due list in two sentences: what is open, and who is not on it."""

    lead: str
    ended: str


_ENDED = {
    "dead": "died",
    "withdrawn": "withdrew",
    "moved": "moved away",
    "unable": "unable to answer",
    "lost": "lost to follow-up",
}


def due_summary(counts: dict[str, int], ended: dict[str, int], on: date) -> DueSummary:
    """Return the sentences above the list."""
    told = ", ".join(f"{number} {_ENDED[end]}" for end, number in ended.items())
    return DueSummary(
        lead=(
            f"{counts['overdue']} overdue, {counts['due']} due, {counts['soon']} opening within "
            f"{SOON.days} days. {day_words(on)}."
        ),
        ended=f"Not on the list because follow-up ended: {told}." if told else "",
    )


def end_consequences(patient: Patient, *, end: str, ended_on: date | None) -> list[str]:
    """Return in words what follows from an end of follow-up, or from taking it back (blank)."""
    waiting = Review.objects.live().filter(patient=patient, held_on=None).count()
    contacts = "1 open contact" if waiting == 1 else f"{waiting} open contacts"
    if not end:
        told = [f"{contacts}: listed again when due."]
        if patient.follow_up_end == "dead":
            told.append(f"The date of death, {day_words(patient.date_of_death)}, is removed.")
        return told
    told = [
        f"{contacts}: not listed any more; nobody is reminded to call or write.",
        f"Where a window closes after {day_words(ended_on)}, the audit counts the contact as "
        f"“{_ENDED[end]}”, never as a success.",
    ]
    if end == "dead":
        told.append(f"{day_words(ended_on)} becomes the date of death on the record.")
    elif patient.follow_up_end == "dead":
        told.append(f"The date of death, {day_words(patient.date_of_death)}, is removed.")
    return told


def end_words(patient: Patient) -> str:
    """Return how a patient's follow-up ended, with its source; "" while it goes on."""
    if patient.follow_up_end:
        source = patient.follow_up_end_source or "source not recorded"
        ended = _ENDED[patient.follow_up_end]
        return f"{ended}, {day_words(patient.follow_up_ended_on)} ({source})"
    return f"died, {day_words(patient.date_of_death)}" if patient.date_of_death else ""
