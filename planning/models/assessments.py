"""What the rules said on a day, and what people decided. Rows are added, never edited."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from register.domain.vocabulary import ROUTE
from register.models.base import Record, choice, known, link, text, voiding


class Assessment(Record):
    """All rules of a rule set applied to one fracture, with what they looked at.

    Nothing is recomputed for display: facts, wording and digest are kept.
    """

    fracture = link("register.Fracture", related_name="assessments")
    protocol = link("register.Protocol", related_name="assessments")
    made_by = link("register.User", related_name="assessments")
    as_of = models.DateField()
    stage = models.CharField(max_length=24)
    ruleset_id = models.CharField(max_length=60)
    ruleset_digest = models.CharField(max_length=64)
    facts = models.JSONField()
    answer = models.CharField(max_length=32)
    answer_words = models.CharField(max_length=300)
    missing = models.JSONField(default=list)
    would_change = models.JSONField(default=list)
    code_version = text(60)
    IS_DERIVED = True

    class Meta:
        ordering: ClassVar = ["-created_at", "-pk"]
        constraints: ClassVar = [voiding("assessment")]
        indexes: ClassVar = [
            models.Index(fields=["fracture", "-created_at"], name="assessment_newest")
        ]

    def __str__(self) -> str:
        return self.answer_words


class RuleResult(models.Model):
    """One rule's verdict with the sentence that was shown."""

    assessment = link(Assessment, related_name="results")
    place = models.PositiveSmallIntegerField()
    rule_id = models.CharField(max_length=40)
    rule_version = models.PositiveSmallIntegerField()
    title = models.CharField(max_length=120)
    stage = models.CharField(max_length=24)
    effect = models.CharField(max_length=24)
    verdict = models.CharField(max_length=24)
    sentence = models.CharField(max_length=600)
    sources = models.JSONField(default=list)
    inputs = models.JSONField(default=list)
    missing = models.JSONField(default=list)
    # The stage by which the rule is due, when that lay ahead; blank when it counted.
    due = text(24)
    # What would settle the matter: what, who, by; empty when nothing is to be done.
    action = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering: ClassVar = ["place"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["assessment", "rule_id"], name="rule_result_once_per_assessment"
            ),
            models.CheckConstraint(
                condition=Q(verdict__in=["met", "not_met", "not_applicable", "cannot_assess"]),
                name="rule_result_verdict_known",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.title}: {self.verdict}"


class Decision(Record):
    """What the team chose for one fracture, by name and with the reason.

    Going against a rule that rules out needs a second name. A later decision
    stands beside the earlier one; nothing is overwritten.
    """

    fracture = link("register.Fracture", related_name="decisions")
    assessment = link(Assessment, null=True, blank=True, related_name="decisions")
    route = choice(ROUTE, blank=False)
    reason = models.CharField(max_length=600)
    decided_on = models.DateField()
    made_by = link("register.User", related_name="decisions")
    against_rules = models.JSONField(default=list, blank=True)
    second_name = link("register.User", null=True, blank=True, related_name="+")
    team_meeting_on = models.DateField(null=True, blank=True)
    team_present = text(300)

    class Meta:
        ordering: ClassVar = ["-decided_on", "-pk"]
        constraints: ClassVar = [
            known("decision", "route", ROUTE, blank=False),
            models.CheckConstraint(
                condition=~Q(reason=""),
                name="decision_has_a_reason",
                violation_error_message="A decision needs its reason.",
            ),
            models.CheckConstraint(
                condition=Q(against_rules=[]) | ~Q(second_name=None),
                name="decision_against_rules_needs_second_name",
                violation_error_message=(
                    "This goes against a rule that speaks against it: add a second name."
                ),
            ),
            models.CheckConstraint(
                condition=Q(second_name=None) | ~Q(second_name=models.F("made_by")),
                name="decision_second_name_is_another",
                violation_error_message="The second name must be another person.",
            ),
            voiding("decision"),
        ]

    def __str__(self) -> str:
        return self.get_route_display()
