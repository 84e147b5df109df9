"""The scenario goes into an empty register, whole, and only there."""

from collections import Counter
from datetime import date
from io import StringIO
from typing import ClassVar

import pytest
from django.core.management import CommandError, call_command
from django.test import TestCase, override_settings

from planning.facts import facts_of_many
from planning.models import Decision, TheatreSession
from planning.rules.answer import AnswerKind, overall
from planning.rules.outcomes import Stage
from planning.services.protocols import in_force
from register.history import acting
from register.history.reading import changes_of_row
from register.models import Fracture, Patient, Review, Site, User
from reports.demo import load
from reports.demo.scenario import make_scenario
from tests.factories import make_patient, make_site

TODAY = date(2027, 3, 7)
FEW = 14

pytestmark = pytest.mark.django_db


class TestLoaded(TestCase):
    """A small scenario, loaded once for all of these."""

    databases: ClassVar = {"default", "owner"}

    @classmethod
    def setUpTestData(cls):
        book = make_scenario(today=TODAY, past_patients=FEW)
        load.load(book, say=lambda line: None)
        cls.counts = book.counts()

    def test_every_row_of_the_book_is_there(self):
        there = {kind: load.model_of(kind)._base_manager.count() for kind in self.counts}
        assert there == self.counts

    def test_every_record_would_pass_its_form(self):
        """The database holds the constraints; a record is also valid as a whole. One in 25."""
        for kind in load.WORDS:
            for record in list(load.model_of(kind)._base_manager.order_by("pk"))[::25]:
                record.full_clean(exclude=["password"])

    def test_history_names_the_loader(self):
        changes = changes_of_row(Patient.objects.order_by("pk")[0])
        assert [(c.operation, c.actor) for c in changes] == [("INSERT", load.ACTOR)]

    def test_past_decisions_stand_on_an_assessment_of_their_day(self):
        decisions = list(Decision.objects.select_related("assessment"))
        assert decisions
        for decision in decisions:
            assert decision.assessment.fracture_id == decision.fracture_id
            assert decision.assessment.as_of == decision.decided_on
            assert bool(decision.against_rules) == (decision.second_name_id is not None)

    def test_fewer_than_one_in_five_waiting_fractures_cannot_be_assessed(self):
        fractures = list(Fracture.objects.filter(state="waiting").select_related("patient"))
        facts, current = facts_of_many(fractures, on=TODAY), in_force(Site.objects.get(), TODAY)
        answers = Counter(
            overall(current.rules.evaluate(facts[f.pk], current.values, stage=Stage.DECISION)).kind
            for f in fractures
        )
        cannot = answers[AnswerKind.CANNOT_ASSESS]
        print(f"waiting {len(fractures)}, of which {cannot} cannot be assessed")
        assert len(fractures) == 25
        assert 1 <= cannot < len(fractures) / 5
        assert answers[AnswerKind.URGENT] == 3
        assert answers[AnswerKind.SUPPORTS] >= 2
        assert answers[AnswerKind.RULED_OUT] >= 2

    def test_people_can_sign_in(self):
        roles = dict(User.objects.values_list("username", "role"))
        assert roles == {
            "consultant": "consultant",
            "consultant2": "consultant",
            "nurse": "nurse",
            "lead": "lead",
            "admin": "administrator",
        }
        assert User.objects.get(username="nurse").check_password(load.PASSWORD)


def run(**options):
    out = StringIO()
    call_command("load_demo", today=TODAY, past_patients=0, stdout=out, **options)
    return out.getvalue()


def test_command_loads_once_and_a_second_run_keeps_the_data():
    said = run()
    assert "30 patients" in said
    assert "Sign in with the password harrowmere-demo" in said
    assert "consultant2" in said
    with acting("test"):
        Patient.objects.filter(hospital_number="HG300137").update(given_name="Kept")
    before = (Patient.objects.count(), Review.objects.count(), TheatreSession.objects.count())
    assert "its data were kept" in run()
    after = (Patient.objects.count(), Review.objects.count(), TheatreSession.objects.count())
    assert before == after
    assert Patient.objects.get(hospital_number="HG300137").given_name == "Kept"
    with acting("test"):
        make_patient(make_site())
    with pytest.raises(CommandError, match="holds other people"):
        run()


def test_refuses_a_register_that_holds_other_people(acting_tester):
    make_patient(make_site())
    with pytest.raises(CommandError, match="holds other people"):
        run()
    assert Patient.objects.count() == 1


@override_settings(REGISTER_DEMO=False)
def test_refuses_a_live_site():
    with pytest.raises(CommandError, match="live site"):
        run()
    assert not Patient.objects.exists()


def test_an_error_leaves_nothing_behind():
    """All or nothing: a wrong row near the end takes everything back."""
    book = make_scenario(today=TODAY, past_patients=2)
    book.of("score")[0].fields["value"] = 99
    with pytest.raises(Exception, match="range of this score"):
        load.load(book, say=lambda line: None)
    assert not Patient.objects.exists()
