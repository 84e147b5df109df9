"""Everything that happened to one patient, newest first: a fixed number of queries."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from django.db.models import Prefetch

from planning.models import Assessment, Decision
from register.domain.days import day_words
from register.domain.protocol import ProtocolValues
from register.domain.scores import INSTRUMENTS
from register.domain.vocabulary import ABSENT, REFERRAL_SOURCE, words_for
from register.models import (
    Patient,
    Procedure,
    Reading,
    Referral,
    Review,
    Score,
    Study,
    Task,
    TreatedLevel,
)


@dataclass(frozen=True, slots=True)
class Event:
    """One line: the day, what it was, what is to be read of it, and where it leads.

    `url_name` and `key` name the page that shows it; blank when there is none.
    """

    day: date
    kind: str
    words: str
    url_name: str = ""
    key: int | None = None


def timeline(patient: Patient, values: ProtocolValues) -> list[Event]:
    """Return all events; those of one day keep the order in which they follow from each other."""
    events = [
        *_referrals(patient),
        *_studies(patient),
        *_assessments(patient),
        *_decisions(patient),
        *_procedures(patient),
        *_contacts(patient, {t.code: t.title for t in values.timepoints}),
        *_tasks(patient),
    ]
    return sorted(events, key=lambda event: event.day, reverse=True)


def _referrals(patient: Patient) -> Iterator[Event]:
    for row in Referral.objects.live().filter(patient=patient):
        source = words_for(REFERRAL_SOURCE, row.source) if row.source else "source not recorded"
        name = f", {row.referrer_name}" if row.referrer_name else ""
        yield Event(row.referred_on, "Referral", f"{source}{name}", "referral-edit", row.pk)


def _studies(patient: Patient) -> Iterator[Event]:
    readings = Prefetch("readings", Reading.objects.live().order_by("pk"))
    for row in Study.objects.live().filter(patient=patient).prefetch_related(readings):
        levels = ", ".join(dict.fromkeys(reading.level for reading in row.readings.all()))
        read = f"read at {levels}" if levels else "not read yet"
        yield Event(
            row.performed_on,
            "Images",
            f"{row.get_modality_display()}, {read}",
            "study-edit",
            row.pk,
        )


def _assessments(patient: Patient) -> Iterator[Event]:
    rows = Assessment.objects.live().filter(fracture__patient=patient)
    for row in rows.select_related("fracture", "made_by"):
        words = f"{row.fracture.level}: {row.answer_words} ({row.made_by})"
        yield Event(row.as_of, "Assessment", words, "assessment", row.pk)


def _decisions(patient: Patient) -> Iterator[Event]:
    rows = Decision.objects.live().filter(fracture__patient=patient)
    for row in rows.select_related("fracture", "made_by", "second_name"):
        second = f" with {row.second_name}" if row.second_name else ""
        against = " Against what the assessment said." if row.against_rules else ""
        words = (
            f"{row.fracture.level}: {row.get_route_display()}, {row.made_by}{second}. "
            f"{row.reason}{against}"
        )
        yield Event(row.decided_on, "Decision", words)


def _procedures(patient: Patient) -> Iterator[Event]:
    levels = Prefetch("levels", TreatedLevel.objects.live().select_related("fracture"))
    rows = Procedure.objects.live().filter(patient=patient).select_related("technique", "operator")
    for row in rows.prefetch_related(levels):
        where = ", ".join(level.fracture.level for level in row.levels.all())
        words = f"{where}: {row.technique}, {row.operated_by} ({row.get_state_display()})"
        yield Event(row.performed_on, "Procedure", words, "procedure", row.pk)


def _contacts(patient: Patient, titles: dict[str, str]) -> Iterator[Event]:
    scores = Prefetch("scores", Score.objects.live().order_by("pk"))
    rows = Review.objects.live().filter(patient=patient, held_on__isnull=False)
    for row in rows.prefetch_related(scores):
        title = titles.get(row.timepoint, row.timepoint.replace("_", " "))
        told = _scores(row.scores.all()) or "no scores"
        assert row.held_on is not None  # filtered above
        yield Event(row.held_on, "Contact", f"{title}: {told}", "review", row.pk)


def _scores(scores: Iterable[Score]) -> str:
    return "; ".join(
        f"{score.get_instrument_display().split(',')[0]} {_score_words(score)}" for score in scores
    )


def _score_words(score: Score) -> str:
    """Return a score with its meaning, or why there is none."""
    if score.value is not None:
        return INSTRUMENTS[score.instrument].words(score.value)
    return words_for(ABSENT, score.absent["value"]) if score.absent else "not given"


def _tasks(patient: Patient) -> Iterator[Event]:
    rows = Task.objects.live().filter(patient=patient).select_related("owner", "closed_by")
    for row in rows:
        if row.closed_at is not None:
            words = f"{row.title}: {row.action_taken} ({row.closed_by})"
            yield Event(row.closed_at.date(), "Task closed", words)
        else:
            due = f"{row.title}, {row.owner}, due {day_words(row.due_on)}"
            yield Event(row.created_at.date(), "Task", due)
