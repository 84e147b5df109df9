"""The first and the last day of a contact's window, the day outside each, and what a jump is."""

from dataclasses import replace
from datetime import timedelta

import pytest

from register.domain.scores import INSTRUMENTS
from register.imports.scores.columns import COLUMNS
from register.imports.scores.placing import place_of
from register.imports.scores.rows import ScoreRow
from tests.score_files import KNOWN, TRUTH

(PATIENT,) = KNOWN.by_nhs.values()
SLOTS = tuple(PATIENT.slots)
ROW = ScoreRow(number=2, patient={}, held_on=TRUTH["held_on"], review={})


def met(day, **more):
    """The time point at which a row's day is placed; None when a person has to say."""
    place, _ = place_of(replace(ROW, held_on=day, **more), PATIENT)
    return place and place.slot.timepoint


@pytest.mark.parametrize("slot", SLOTS, ids=[slot.timepoint for slot in SLOTS])
def test_both_ends_belong_to_a_window_and_the_days_outside_do_not(slot):
    for day, is_inside in (
        (slot.opens_on - timedelta(1), False),
        (slot.opens_on, True),
        (slot.closes_on, True),
        (slot.closes_on + timedelta(1), False),
    ):
        assert (met(day) == slot.timepoint) is is_inside, day


def test_a_named_contact_may_be_held_a_day_outside_its_window():
    slot = next(slot for slot in SLOTS if slot.timepoint == "months_3")
    for day in (slot.opens_on - timedelta(1), slot.closes_on + timedelta(1)):
        assert met(day, timepoint="3 months") == "months_3"


def test_the_column_of_reasons_names_the_jump_that_the_page_asks_about():
    (why,) = (column for column in COLUMNS if column.field == "unlikely_reason")
    assert why.asks.endswith(f" {INSTRUMENTS['pain_now'].unlikely_change}.")
