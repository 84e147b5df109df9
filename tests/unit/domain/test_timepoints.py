"""Follow-up contacts: their days, their names, and where they stand."""

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from register.domain.protocol import shipped
from register.domain.timepoints import ContactState, Timepoint, contact, name_contact, schedule

TREATED = date(2026, 3, 2)
TIMEPOINTS = shipped(TREATED).timepoints
WEEKS = next(t for t in TIMEPOINTS if t.code == "weeks_2_4")


def test_four_contacts_are_asked_for_as_shipped():
    assert [(c.timepoint.code, c.target_on) for c in schedule(TREATED, TIMEPOINTS)] == [
        ("before", date(2026, 3, 2)),
        ("weeks_2_4", date(2026, 3, 23)),
        ("months_3", date(2026, 6, 1)),
        ("months_12", date(2027, 3, 2)),
    ]


def test_the_optional_contacts_are_known_but_not_asked_for():
    assert [t.code for t in TIMEPOINTS if not t.asked] == [
        "day_1", "weeks_6", "months_6", "months_24",
    ]  # fmt: skip


def test_the_shipped_windows_do_not_overlap_and_ask_something():
    assert all(one.closes_days < next_.opens_days for one, next_ in pairwise(TIMEPOINTS))
    assert all(t.instruments for t in TIMEPOINTS)


@pytest.mark.parametrize(
    ("day", "state"),
    [
        (13, ContactState.UPCOMING),
        (14, ContactState.DUE),
        (21, ContactState.DUE),
        (22, ContactState.OVERDUE),
        (31, ContactState.OVERDUE),
        (32, ContactState.CLOSED),
    ],
)
def test_a_contact_is_due_to_its_target_and_overdue_to_its_close(day, state):
    assert contact(TREATED, WEEKS).state(TREATED + timedelta(days=day)) is state


@pytest.mark.parametrize(
    ("day", "code"),
    [
        (-43, None), (-42, "before"), (0, "before"), (1, "day_1"), (13, None), (14, "weeks_2_4"),
        (31, "weeks_2_4"), (32, None), (42, "weeks_6"), (91, "months_3"), (365, "months_12"),
        (455, "months_12"), (456, None), (700, "months_24"),
    ],
)  # fmt: skip
def test_a_day_names_the_contact_in_whose_window_it_falls(day, code):
    found = name_contact(TREATED, TREATED + timedelta(days=day), TIMEPOINTS)
    assert (found.code if found else None) == code


def test_where_windows_overlap_the_nearer_target_wins():
    early = Timepoint("early", "early", 10, 0, 30, True, ("pain_now",), "contact-windows")
    late = Timepoint("late", "late", 30, 10, 50, True, ("pain_now",), "contact-windows")
    named = [
        name_contact(TREATED, TREATED + timedelta(days=day), [late, early]) for day in (19, 20, 21)
    ]
    assert named == [early, early, late]


def test_a_target_outside_its_window_is_refused():
    with pytest.raises(ValueError, match="the target, day 5, must lie in the window, day 6 to 9"):
        Timepoint("odd", "odd", 5, 6, 9, True, (), "contact-windows")


@given(day=st.integers(-60, 900))
def test_a_named_day_is_never_upcoming_or_closed_for_that_contact(day):
    seen_on = TREATED + timedelta(days=day)
    if found := name_contact(TREATED, seen_on, TIMEPOINTS):
        state = contact(TREATED, found).state(seen_on)
        assert state in (ContactState.DUE, ContactState.OVERDUE)


def test_a_contact_travels_as_json():
    assert Timepoint.from_json(WEEKS.as_json()) == WEEKS
