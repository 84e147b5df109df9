"""How it went: scores over time, who stops coming, who dies, and what the films show.

Pain is drawn from a log-normal curve with a floor at 0, so that it is skewed to
the right, and successive scores of one person belong together. Whoever feels
well, or has stayed away once, is less likely to be seen.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from random import Random
from typing import Any, Final

from register.domain.timepoints import Contact, Timepoint, schedule
from reports.demo import bodies, parameters
from reports.demo.book import Book, Row, between, days, pick
from reports.demo.imaging import Pictures, add_later_film
from reports.demo.referrals import Episode
from reports.demo.theatre import at

MOBILITY_SCORE: Final = {"bed": 0, "chair": 1, "help": 2, "aid": 3, "independent": 4}
# Points by which the curve reaches below 0, so that some people have no pain at all.
SHIFT: Final = 1.2
GAP_REASONS: Final = ("not_done", "declined", "not_known")


@dataclass
class Person:
    """What carries over between the contacts of one patient."""

    patient: Row
    lives_until: date
    ends_on: date | None
    end: str
    missed: bool = False
    last_pain: float = 8.0
    drift: float = 0.0
    contacts: list[Row] = field(default_factory=list)


def draw_person(rng: Random, episode: Episode, today: date) -> Person:
    """Draw when a patient will die and whether follow-up ends otherwise."""
    shares = dict(parameters.ENDS.value)
    end = pick(rng, shares | {"": 1 - sum(shares.values())})
    ends_on = episode.referred_on + timedelta(days=rng.randint(25, 400)) if end else None
    return Person(
        episode.patient,
        lives_until=_death(rng, episode),
        ends_on=ends_on if ends_on and ends_on <= today else None,
        end=end,
    )


def _death(rng: Random, episode: Episode) -> date:
    """Draw the day of death: a higher hazard in the first year, rising with age."""
    factor = math.exp(parameters.DEATH_PER_YEAR_OF_AGE.value * (episode.profile.age - 78))
    factor *= 3.0 if episode.cause == "tumour" else 1.0
    hazard = parameters.DEATH_PER_YEAR.value
    years = rng.expovariate(hazard["first"] * factor)
    if years > 1:
        years = 1 + rng.expovariate(hazard["later"] * factor)
    return episode.referred_on + timedelta(days=max(12, round(years * 365.25)))


def follow(
    book: Book,
    rng: Random,
    episode: Episode,
    person: Person,
    pictures: Pictures,
    *,
    procedure: Row | None,
    anchor: date,
    timepoints: Sequence[Timepoint],
    nurses: Sequence[Row],
    today: date,
) -> None:
    """Write the contacts that the protocol asks for, and what came of each."""
    responds = rng.random() < (parameters.RESPONDER if procedure else parameters.RESOLVER).value
    person.last_pain, person.missed = float(episode.pain_moving), False
    for contact in schedule(anchor, timepoints):
        review = _contact_row(book, episode, procedure, anchor, contact)
        code = contact.timepoint.code
        held_on = _held_on(rng, contact, anchor, episode)
        if code != "before":
            person.last_pain = _pain(rng, person, code, operated=bool(procedure), responds=responds)
        if held_on > today or held_on >= person.lives_until:
            _tries(book, rng, review, person, nurses, today)
            continue
        if person.ends_on and held_on >= person.ends_on:
            continue
        if rng.random() >= chance_of_being_seen(person, code):
            person.missed = True
            _tries(book, rng, review, person, nurses, today)
            continue
        person.missed = False
        _hold(rng, review, held_on, nurses)
        _scores(book, rng, review, person, contact.timepoint, episode)
        _film_after(book, rng, episode, pictures, code, held_on, bool(procedure))


def _contact_row(
    book: Book, episode: Episode, procedure: Row | None, anchor: date, contact: Contact
) -> Row:
    return book.add(
        "review",
        patient=episode.patient,
        procedure=procedure,
        fracture=None if procedure else episode.fractures[0],
        timepoint=contact.timepoint.code,
        anchor_on=anchor,
        target_on=contact.target_on,
        opens_on=contact.opens_on,
        closes_on=contact.closes_on,
    )


def _held_on(rng: Random, contact: Contact, anchor: date, episode: Episode) -> date:
    """Draw the day of a contact; one in twenty-five is late."""
    if contact.timepoint.code == "before":
        wanted = anchor - timedelta(days=rng.choice((0, 0, 0, 1, 1, 2, 3, 5)))
        return max(wanted, episode.referred_on)
    if rng.random() < 0.04:
        return contact.closes_on + timedelta(days=rng.randint(2, 20))
    width = (contact.closes_on - contact.opens_on).days
    wanted = contact.target_on + days(rng.gauss(0.02 * width, 0.16 * width))
    return min(max(wanted, contact.opens_on), contact.closes_on)


def _pain(rng: Random, person: Person, code: str, *, operated: bool, responds: bool) -> float:
    """Draw the next pain: correlated with the last deviation, skewed, never below 0."""
    keep = parameters.CORRELATION.value
    person.drift = keep * person.drift + math.sqrt(1 - keep**2) * rng.gauss(0, 1)
    if operated:
        mean, sd = (
            parameters.PAIN_AFTER.value[code] if responds else parameters.PAIN_AFTER_NOT.value
        )
    elif responds:
        mean, sd = parameters.PAIN_CONSERVATIVE.value[code]
    else:
        mean, sd = parameters.PAIN_CONSERVATIVE_NOT.value
    log_sd = math.sqrt(math.log(1 + (sd / (mean + SHIFT)) ** 2))
    pain = (mean + SHIFT) * math.exp(log_sd * person.drift - log_sd**2 / 2) - SHIFT
    return min(max(pain, 0.0), 10.0)


def chance_of_being_seen(person: Person, code: str) -> float:
    odds = math.log(parameters.SEEN.value[code] / (1 - parameters.SEEN.value[code]))
    if code != "before":
        odds -= parameters.WELL_STAYS_AWAY.value * max(0.0, 4 - person.last_pain)
        odds += 0.45
    if person.missed:
        odds -= parameters.ONCE_LOST.value
    return 1 / (1 + math.exp(-odds))


def _hold(rng: Random, review: Row, held_on: date, nurses: Sequence[Row]) -> None:
    clinic = 0.75 if review["timepoint"] == "before" else 0.4
    mode = "clinic" if rng.random() < clinic else "telephone"
    informant = "patient" if rng.random() < 0.92 else rng.choice(("relative", "carer"))
    review.fields |= {
        "held_on": held_on,
        "mode": "care_home" if mode == "telephone" and rng.random() < 0.06 else mode,
        "informant": informant,
        "recorded_by": rng.choice(nurses),
        **_warning_signs(rng, held_on),
    }


def _warning_signs(rng: Random, held_on: date) -> dict[str, Any]:
    """Warning signs: mostly asked and none, sometimes not asked, rarely one, told to somebody."""
    drawn = rng.random()
    if drawn < 0.012:
        return {
            "red_flags": ["sudden_pain"],
            "red_flags_told": "Consultant on call",
            "red_flags_told_at": at(held_on, 15, 30),
        }
    return {"red_flags": [] if drawn < 0.12 else ["none"]}


def _scores(
    book: Book, rng: Random, review: Row, person: Person, timepoint: Timepoint, episode: Episode
) -> None:
    for instrument in timepoint.instruments:
        gap = rng.random() < parameters.SCORE_MISSING.value[instrument]
        value = _score(rng, instrument, person, timepoint.code, episode)
        book.add(
            "score",
            review=review,
            instrument=instrument,
            value=None if gap else value,
            absent={"value": rng.choice(GAP_REASONS)} if gap else {},
        )


def _score(rng: Random, instrument: str, person: Person, code: str, episode: Episode) -> int:
    pain = person.last_pain
    if instrument == "pain_now":
        return round(min(max(pain - 0.7 + rng.gauss(0, 0.6), 0), 10))
    if instrument == "pain_worst":
        return round(min(max(pain + 0.8 + rng.gauss(0, 0.7), 0), 10))
    if instrument == "pain_moving":
        return round(pain)
    if instrument == "disability_24":
        mean, sd = parameters.DISABILITY_BEFORE.value
        fall = parameters.DISABILITY_PER_PAIN.value * (8.0 - pain)
        return round(between(rng, mean - fall, sd, 0, 24))
    if instrument == "analgesic_step":
        return min(3, max(0, round(pain / 3.2 + rng.gauss(0, 0.6))))
    if instrument == "mobility":
        start = MOBILITY_SCORE.get(str(episode.referral["mobility"]), 3)
        better = 0 if code == "before" else (8 - pain) / 5
        return min(4, max(0, round(start + better + rng.gauss(0, 0.4))))
    if instrument == "falls":
        return 1 if rng.random() < 0.14 else 0
    if instrument == "bone_drug":
        return 1 if rng.random() < 0.68 else 0
    return 1 if rng.random() < 0.11 else 0


def _tries(
    book: Book, rng: Random, review: Row, person: Person, nurses: Sequence[Row], today: date
) -> None:
    """Write attempts to reach somebody for a contact that was or is due."""
    last = min(review["closes_on"], today - timedelta(days=1), person.lives_until)
    first = review["opens_on"] + timedelta(days=3)
    if first > last or review["timepoint"] == "before" or rng.random() < 0.3:
        return
    for place in range(rng.choice((1, 1, 2, 3))):
        day = first + timedelta(days=place * rng.randint(3, 9))
        if day > last:
            return
        outcome = rng.choice(("no_answer", "no_answer", "message", "call_back", "wrong_number"))
        book.add(
            "attempt",
            review=review,
            made_at=at(day, rng.randint(9, 16), rng.choice((5, 20, 40))),
            made_by=rng.choice(nurses),
            mode="telephone",
            outcome=outcome,
            next_try_on=day + timedelta(days=7) if outcome != "wrong_number" else None,
        )


def _film_after(
    book: Book,
    rng: Random,
    episode: Episode,
    pictures: Pictures,
    code: str,
    on: date,
    operated: bool,
) -> None:
    """Write a film at some contacts, after the treated bodies have sunk a little."""
    if code not in parameters.LATER_LOSS_MM.value or rng.random() > 0.62:
        return
    mean, sd = parameters.LATER_LOSS_MM.value[code]
    for broken in episode.broken:
        loss = max(0.0, rng.gauss(mean, sd))
        if not operated:
            share = max(0.0, rng.gauss(*parameters.SINKING.value)) / 2
            loss = share * pictures.normal[broken.level].anterior
        pictures.now[broken.level] = bodies.sunk(pictures.now[broken.level], loss)
    add_later_film(book, rng, episode, pictures, on)


def close_lives(book: Book, people: Sequence[Person], today: date) -> None:
    """Write who has died, whose follow-up has ended, and when the others were last seen."""
    held = [row for row in book.of("review") if row.get("held_on")]
    last_seen = {
        id(row["patient"]): row["held_on"] for row in sorted(held, key=lambda r: r["held_on"])
    }
    for person in people:
        fields = person.patient.fields
        if person.lives_until <= today:
            fields["date_of_death"] = person.lives_until
            fields["alive_checked_on"] = None
            ended, how = person.lives_until, "dead"
        elif person.ends_on and person.ends_on <= today:
            ended, how = person.ends_on, person.end
        else:
            fields["alive_checked_on"] = last_seen.get(
                id(person.patient), fields["alive_checked_on"]
            )
            continue
        fields |= {
            "follow_up_end": how,
            "follow_up_ended_on": ended,
            "follow_up_end_source": "hospital record" if how == "dead" else "telephone call",
        }
