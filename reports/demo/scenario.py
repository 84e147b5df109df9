"""The scenario: thirty months of an invented department, ending today.

Pure and deterministic: the same day, seed and shipped protocol give the same
book. Each patient has a random stream of their own, so that a change to one
leaves the others as they were.
"""

from datetime import date, timedelta
from random import Random

from reports.demo import course, past, repeats, theatre_log, waiting
from reports.demo.book import Book
from reports.demo.parameters import PAST_PATIENTS, SEED
from reports.demo.world import SETTLED_DAYS, make_world


def make_scenario(
    *, today: date, seed: int = SEED, past_patients: int = PAST_PATIENTS.value
) -> Book:
    """Return the book: past patients, those who wait, those on the next lists, a log, repeats."""
    world = make_world(today)
    span = (today - world.first_day).days - SETTLED_DAYS
    for number in range(past_patients):
        rng = Random(f"{seed} past {number}")
        share = (number + rng.random()) / past_patients
        past.past_patient(world, rng, world.first_day + timedelta(days=int(span * share)))
    waiting.add_waiting(world, seed)
    waiting.add_listed(world, seed)
    course.close_lives(world.book, world.people, today)
    theatre_log.add_theatre_log(world.book, world.staff, seed, today)
    repeats.add_repeat_readings(world.book, world.doctors, seed, today)
    return world.book
