"""Past patients: from the referral to the last film, and sometimes once more."""

from datetime import date, timedelta
from random import Random
from typing import Any, Final

from register.domain.levels import above, below, distance
from reports.demo import course, imaging, people, referrals, theatre
from reports.demo.book import Row, days, log_normal, pick
from reports.demo.imaging import Pictures
from reports.demo.parameters import (
    DESTINY,
    LEVEL,
    NEW_FRACTURE,
    NEW_FRACTURE_EARLY,
    NEW_FRACTURE_NEXT,
    TECHNIQUE_BEFORE,
    TECHNIQUE_SINCE,
)
from reports.demo.referrals import Episode
from reports.demo.world import SETTLED_DAYS, World

REASONS: Final = {
    "cement": (
        "Severe pain at the level that shows oedema; cannot be mobilised on analgesia.",
        "Fresh fracture, concordant pain, analgesia fails; little height lost.",
    ),
    "balloon": (
        "Fresh fracture with marked height loss and severe pain despite analgesia.",
        "Pain at the level of oedema, kyphosis increasing; analgesia fails.",
    ),
    "expandable": (
        "Fresh collapse with loss of the middle height; team agreed on the newer technique.",
        "Severe pain, split body with good pedicles; discussed and agreed in the team.",
    ),
    "fixation": (
        "Posterior wall broken and unstable; screws with cement agreed with the spinal team.",
    ),
    "conservative": (
        "Pain is settling; analgesia and mobilisation, review as scheduled.",
        "Pain is bearable and the patient walks; no procedure now.",
        "Patient prefers to wait; knows when to ring.",
    ),
    "urgent_spinal": ("Neurological change: passed to the spinal surgeon on call.",),
    "investigate": ("Signs beyond an osteoporotic fracture: biopsy and bloods first.",),
}


def past_patient(world: World, rng: Random, referred_on: date) -> None:
    """Write one patient of the past with all episodes."""
    profile = people.draw_profile(rng)
    patient = people.add_patient(world.book, rng, world.staff["site"], profile, on=referred_on)
    levels = referrals.draw_levels(rng)
    destiny = pick(rng, DESTINY.value)
    if profile.cause == "infection":
        destiny = "urgent_spinal"
    elif profile.cause in ("tumour", "trauma") and destiny == "closed":
        destiny = "conservative"
    episode = Episode(
        patient,
        profile,
        onset_on=referred_on - timedelta(days=referrals.draw_days_to_referral(rng)),
        referred_on=referred_on,
        broken=referrals.draw_broken(rng, levels),
        destiny=destiny,
    )
    person = course.draw_person(rng, episode, world.today)
    world.people.append(person)
    pictures, anchor = run_episode(world, rng, episode, person)
    _perhaps_again(world, rng, episode, person, pictures, anchor)


def run_episode(
    world: World,
    rng: Random,
    episode: Episode,
    person: course.Person,
    *,
    earlier: Pictures | None = None,
    given: dict[str, Any] | None = None,
) -> tuple[Pictures, date]:
    """Write one episode; return the bodies as it left them, and its anchor day."""
    book = world.book
    neurology = {"neurology": rng.choice(("N2", "N2", "N3"))}
    urgent = (
        neurology if episode.destiny == "urgent_spinal" and episode.cause != "infection" else {}
    )
    certain = episode.destiny == "procedure" or rng.random() < 0.8
    referrals.add_referral(
        book,
        rng,
        episode,
        given=urgent | (given or {}),
        tender=True if certain else rng.choice((False, None)),
        matches_imaging=True if certain else rng.choice((False, None)),
    )
    pictures = imaging.add_first_studies(
        book, rng, episode, world.doctors, mri=rng.random() < 0.96, earlier=earlier
    )
    imaging.add_blood(book, rng, episode)
    imaging.add_bone_density(book, rng, episode)
    decided_on = episode.referred_on + timedelta(days=rng.randint(3, 9))
    anchor = _settle(world, rng, episode, person, pictures, decided_on)
    return pictures, anchor


def _settle(
    world: World,
    rng: Random,
    episode: Episode,
    person: course.Person,
    pictures: Pictures,
    decided_on: date,
) -> date:
    """Decide an episode and follow what was decided; return the day to count from."""
    if episode.destiny == "closed" or person.lives_until <= decided_on:
        _end_without(episode, "closed")
        return decided_on
    route = _route(world, rng, episode, decided_on)
    decisions = decide(world, rng, episode, route, decided_on)
    if episode.destiny == "procedure":
        procedure = _operate(world, rng, episode, person, pictures, decisions, route, decided_on)
        if procedure is None:
            return decided_on
        anchor: date = procedure["performed_on"]
    else:
        _end_without(episode, "conservative" if route == "conservative" else "transferred")
        if route != "conservative":
            return decided_on
        procedure, anchor = None, decided_on
    course.follow(
        world.book,
        rng,
        episode,
        person,
        pictures,
        procedure=procedure,
        anchor=anchor,
        timepoints=world.timepoints,
        nurses=world.nurses,
        today=world.today,
    )
    episode.referral.fields["state"] = "closed"
    return anchor


def _end_without(episode: Episode, state: str) -> None:
    for fracture in episode.fractures:
        fracture.fields["state"] = state
    episode.referral.fields["state"] = "open" if state == "listed" else "closed"


def _route(world: World, rng: Random, episode: Episode, on: date) -> str:
    if episode.destiny != "procedure":
        return episode.destiny
    new = world.shelf.techniques["expandable"]["approved_on"]
    weights = dict((TECHNIQUE_SINCE if on >= new else TECHNIQUE_BEFORE).value)
    weights["fixation"] *= 15 if episode.cause == "trauma" else 0.4
    if episode.cause == "tumour":
        weights.pop("expandable", None)
    return pick(rng, weights)


def decide(
    world: World, rng: Random, episode: Episode, route: str, on: date, *, team: bool = False
) -> list[Row]:
    """Write the decision for each fracture of an episode, by one person with one reason."""
    team = team or route in ("expandable", "fixation", "urgent_spinal") or rng.random() < 0.55
    reason, who = rng.choice(REASONS[route]), rng.choice(world.doctors)
    return [
        world.book.add(
            "decision",
            fracture=fracture,
            route=route,
            reason=reason,
            decided_on=on,
            made_by=who,
            team_meeting_on=on if team else None,
            team_present="Two consultants, specialist nurse, radiologist" if team else "",
        )
        for fracture in episode.fractures
    ]


def _operate(
    world: World,
    rng: Random,
    episode: Episode,
    person: course.Person,
    pictures: Pictures,
    decisions: list[Row],
    route: str,
    decided_on: date,
) -> Row | None:
    """Plan, list and do a procedure; None when the patient dies first or must still wait."""
    book = world.book
    technique = world.shelf.techniques[route]
    plan = theatre.add_plan(book, rng, episode, decisions, technique, world.staff, on=decided_on)
    session = world.calendar.room_for(
        decided_on + timedelta(days=2), plan["expected_minutes"], last=world.today - days(1)
    )
    if session is None:
        _end_without(episode, "listed")
        return None
    if person.lives_until <= session.row["held_on"] + timedelta(days=3):
        _end_without(episode, "closed")
        return None
    procedure = theatre.add_procedure(book, rng, episode, pictures, plan, session, world.shelf)
    theatre.list_plan(book, session, plan, procedure=procedure)
    theatre.add_specimen_task(book, procedure, world.staff, world.today)
    if rng.random() < 0.9:
        day_after = procedure["performed_on"] + timedelta(days=rng.choice((0, 1, 1, 2)))
        imaging.add_later_film(book, rng, episode, pictures, min(day_after, world.today))
    return procedure


def _perhaps_again(
    world: World,
    rng: Random,
    episode: Episode,
    person: course.Person,
    pictures: Pictures,
    anchor: date,
) -> None:
    """Break another vertebra of some patients, mostly soon and next to the first."""
    if episode.cause != "osteoporotic" or rng.random() >= NEW_FRACTURE.value:
        return
    early = rng.random() < NEW_FRACTURE_EARLY.value
    onset = anchor + timedelta(days=rng.randint(8, 90) if early else rng.randint(91, 360))
    referred = onset + days(min(log_normal(rng, 9, 0.5), 60))
    gone = person.lives_until if not person.ends_on else min(person.lives_until, person.ends_on)
    if referred > world.today - timedelta(days=SETTLED_DAYS) or referred >= gone - timedelta(
        days=30
    ):
        return
    level = _next_level(rng, episode, pictures)
    again = Episode(
        episode.patient,
        episode.profile,
        onset_on=onset,
        referred_on=referred,
        broken=referrals.draw_broken(rng, [level]),
        destiny=rng.choice(("procedure", "procedure", "conservative")),
    )
    run_episode(world, rng, again, person, earlier=pictures)
    again.fractures[0].fields["earlier_fracture"] = min(
        episode.fractures, key=lambda fracture: distance(fracture["level"], level)
    )


def _next_level(rng: Random, episode: Episode, pictures: Pictures) -> str:
    broken = {b.level for b in episode.broken} | pictures.old
    near = [n for b in episode.broken for n in (above(b.level), below(b.level))]
    next_to = [n for n in near if n in LEVEL.value and n not in broken]
    if next_to and rng.random() < NEW_FRACTURE_NEXT.value:
        return str(rng.choice(next_to))
    away = {level: w for level, w in LEVEL.value.items() if level not in {*broken, *near}}
    return pick(rng, away)
