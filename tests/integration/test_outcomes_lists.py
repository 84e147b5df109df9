"""Who is due, and how complete follow-up is."""

from datetime import date, timedelta

import pytest

from register.domain.timepoints import Contact, ContactState, Timepoint
from register.models import Attempt
from register.selectors.completeness import completeness
from register.selectors.outcomes import (
    GROUPS,
    due_counts,
    due_filtered,
    due_reviews,
    ended_counts,
    failed_tries,
    reviews_of_site,
    similar_in,
)
from tests.factories import (
    TODAY,
    make_fracture,
    make_patient,
    make_procedure,
    make_referral,
    make_review,
    make_site,
    make_technique,
    make_user,
)

pytestmark = pytest.mark.django_db
STATES = {
    ContactState.OVERDUE: "overdue",
    ContactState.DUE: "due",
    ContactState.UPCOMING: "soon",
    ContactState.CLOSED: "closed",
}


@pytest.fixture
def site(acting_tester):
    return make_site()


def contact(site, day=TODAY, patient=None, **fields):
    """A contact of a procedure on a day; by default the one after 2 to 4 weeks."""
    patient = patient or make_patient(site)
    fracture = make_fracture(make_referral(patient, onset_on=None, onset_precision=""))
    procedure = make_procedure(
        fracture, make_technique(site), make_user(site, "nurse"), performed_on=day
    )
    return make_review(procedure, **fields)


@pytest.mark.parametrize("ago", range(0, 40, 1))
def test_the_group_is_the_state_of_the_contact_on_every_day(site, ago):
    review = contact(site, TODAY - timedelta(days=ago))
    timepoint = Timepoint("x", "x", 21, 14, 28, True, (), "x")
    state = Contact(timepoint, review.opens_on, review.target_on, review.closes_on).state(TODAY)
    [found] = due_reviews(site=site, on=TODAY)
    assert GROUPS[found.rank] == STATES[state]


def test_a_contact_shows_fourteen_days_before_its_window(site):
    contact(site, TODAY)
    assert not due_reviews(site=site, on=TODAY - timedelta(days=1))
    assert due_reviews(site=site, on=TODAY)


def test_overdue_comes_first_then_due_then_soon_each_by_the_closing_day(site):
    days = {21: "due", 25: "overdue", 2: "soon", 27: "overdue", 17: "due"}
    made = {ago: contact(site, TODAY - timedelta(days=ago)) for ago in days}
    order = [review.pk for review in due_filtered(due_reviews(site=site, on=TODAY))]
    assert order == [made[ago].pk for ago in (27, 25, 21, 17, 2)]
    counts = due_counts(due_reviews(site=site, on=TODAY))
    assert counts == {"overdue": 2, "due": 2, "soon": 1, "closed": 0}


@pytest.mark.parametrize("end", ["dead", "withdrawn", "moved", "unable", "lost"])
def test_nobody_whose_follow_up_ended_is_listed_but_each_is_counted(site, end):
    died = {"date_of_death": TODAY} if end == "dead" else {}
    patient = make_patient(site, follow_up_end=end, follow_up_ended_on=TODAY, **died)
    contact(site, TODAY - timedelta(days=20), patient)
    assert not due_reviews(site=site, on=TODAY)
    assert ended_counts(site=site, on=TODAY) == {end: 1}


def test_a_date_of_death_alone_takes_a_patient_off_the_list(site):
    contact(site, TODAY - timedelta(days=20), make_patient(site, date_of_death=TODAY))
    assert not due_reviews(site=site, on=TODAY)
    assert ended_counts(site=site, on=TODAY) == {"dead": 1}


def test_held_voided_and_foreign_contacts_are_not_listed(site):
    day = TODAY - timedelta(days=20)
    nurse = make_user(site, "nurse")
    contact(site, day, held_on=TODAY, recorded_by=nurse)
    contact(make_site(), day)
    voided = contact(site, day)
    voided.voided_at, voided.void_reason = "2027-03-01T00:00Z", "Entered twice"
    voided.save()
    assert not due_reviews(site=site, on=TODAY)


def test_what_was_to_be_asked_before_the_procedure_cannot_be_made_up_for(site):
    days = {"opens_on": TODAY - timedelta(days=50), "target_on": TODAY, "closes_on": TODAY}
    contact(site, TODAY, timepoint="before", **days)
    assert [GROUPS[r.rank] for r in due_reviews(site=site, on=TODAY)] == ["due"]
    assert not due_reviews(site=site, on=TODAY + timedelta(days=1))


def test_closed_windows_show_only_when_asked_for(site):
    contact(site, TODAY - timedelta(days=60))
    everybody = due_reviews(site=site, on=TODAY)
    assert not due_filtered(everybody)
    assert due_filtered(everybody, group="closed").count() == 1


def test_filters_by_timepoint_and_by_the_way_that_was_tried(site):
    one, other = (contact(site, TODAY - timedelta(days=20)) for _ in range(2))
    Attempt.objects.create(
        review=one, made_at="2027-03-01T10:00Z", made_by=make_user(site, "nurse"),
        mode="telephone", outcome="no_answer",
    )  # fmt: skip
    everybody = due_reviews(site=site, on=TODAY)
    assert [r.pk for r in due_filtered(everybody, tried="telephone")] == [one.pk]
    assert [r.pk for r in due_filtered(everybody, tried="none")] == [other.pk]
    assert due_filtered(everybody, timepoint="weeks_2_4").count() == 2
    assert due_filtered(everybody, timepoint="months_3").count() == 0


def test_similar_names_are_found_over_all_pages(site):
    for family in ("Arden", "Ardan", "Broome"):
        contact(site, TODAY - timedelta(days=20), make_patient(site, family_name=family))
    marked = similar_in(due_reviews(site=site, on=TODAY))
    names = {
        r.patient.family_name for r in due_reviews(site=site, on=TODAY) if r.patient_id in marked
    }
    assert names == {"Arden", "Ardan"}


@pytest.mark.parametrize(
    ("newest_first", "failed"),
    [
        ([], 0),
        (["no_answer"], 1),
        (["message", "no_answer", "wrong_number"], 3),
        (["no_answer", "reached", "no_answer"], 1),
        (["call_back", "no_answer"], 0),
    ],
)
def test_tries_count_from_the_last_time_somebody_answered(newest_first, failed):
    assert failed_tries([Attempt(outcome=outcome) for outcome in newest_first]) == failed


def test_completeness_counts_every_contact_once(site):
    nurse = make_user(site, "nurse")
    day = TODAY - timedelta(days=60)  # the window was day 14 to 28

    def held(after):
        return {"held_on": day + timedelta(days=after), "recorded_by": nurse}

    def left(end, after, **fields):
        on = day + timedelta(days=after)
        died = {"date_of_death": on} if end == "dead" else {}
        return make_patient(site, follow_up_end=end, follow_up_ended_on=on, **died)

    contact(site, day, **held(14))
    contact(site, day, **held(28))
    contact(site, day, **held(29))
    contact(site, day, **held(13))
    contact(site, day, left("dead", 28))
    contact(site, day, left("dead", 29))  # died after the window: was missed
    contact(site, day, left("dead", 29), **held(20))  # died later: was seen
    contact(site, day, left("withdrawn", 5))
    contact(site, day, left("moved", 5))
    contact(site, day, left("unable", 5))
    contact(site, day, left("lost", 28))
    contact(site, day)
    contact(site, TODAY - timedelta(days=28))  # closes today: still open
    contact(site, TODAY - timedelta(days=20), held_on=TODAY, recorded_by=nurse)

    [row] = completeness(reviews_of_site(site), on=TODAY)
    assert (row.seen_in_window, row.seen_early, row.seen_late) == (3, 1, 1)
    assert (row.dead, row.withdrawn, row.moved, row.unable, row.lost) == (1, 1, 1, 1, 1)
    assert (row.missed, row.not_yet_due) == (2, 2)
    assert (row.scheduled, row.due) == (14, 11)


def test_completeness_looks_at_what_was_known_on_the_day(site):
    nurse = make_user(site, "nurse")
    contact(site, TODAY - timedelta(days=60), held_on=date(2027, 3, 6), recorded_by=nurse)
    [row] = completeness(reviews_of_site(site), on=TODAY - timedelta(days=10))
    assert (row.missed, row.seen_late) == (1, 0)


def test_completeness_is_one_query_in_the_order_of_time(site, django_assert_num_queries):
    for name, after in (("months_3", 91), ("weeks_2_4", 21)):
        on = TODAY + timedelta(days=after)
        contact(site, timepoint=name, target_on=on, opens_on=on, closes_on=on)
    with django_assert_num_queries(1):
        rows = completeness(reviews_of_site(site), on=TODAY)
    assert [row.timepoint for row in rows] == ["weeks_2_4", "months_3"]
