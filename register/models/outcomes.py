"""How it went: the contacts that are due, the scores given, the attempts to reach somebody."""

from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.utils.timezone import localdate

from register.domain.scores import SCORE_RANGE
from register.domain.vocabulary import (
    ATTEMPT_OUTCOME,
    CONTACT_MODE,
    INFORMANT,
    INSTRUMENT,
    RED_FLAG,
)
from register.models.base import (
    Record,
    absence,
    choice,
    each_known,
    known,
    link,
    several,
    text,
    voiding,
)


class Review(Record):
    """One follow-up contact, made when it is scheduled and filled when it happens.

    `anchor_on` is the day from which it is counted: the procedure, or the
    decision for conservative care. A contact without `held_on` has not happened.
    """

    patient = link("Patient", related_name="reviews")
    procedure = link("Procedure", null=True, blank=True, related_name="reviews")
    fracture = link("Fracture", null=True, blank=True, related_name="reviews")
    timepoint = models.CharField(max_length=24)
    anchor_on = models.DateField()
    target_on = models.DateField()
    opens_on = models.DateField()
    closes_on = models.DateField()
    held_on = models.DateField(null=True, blank=True)
    mode = choice(CONTACT_MODE)
    informant = choice(INFORMANT)
    informant_name = text(120)
    recorded_by = link("User", null=True, blank=True, related_name="+")
    red_flags = several(RED_FLAG)
    red_flags_told = text(200, help_text="Who was told")
    red_flags_told_at = models.DateTimeField(null=True, blank=True)
    note = models.TextField(blank=True, default="")

    class Meta:
        ordering: ClassVar = ["closes_on", "pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(opens_on__lte=F("target_on"), target_on__lte=F("closes_on")),
                name="review_window_in_order",
                violation_error_message="The window opens, then comes the day, then it closes.",
            ),
            models.CheckConstraint(
                condition=~Q(procedure=None) | ~Q(fracture=None),
                name="review_follows_something",
                violation_error_message="A contact follows a procedure or a decision.",
            ),
            models.UniqueConstraint(
                fields=["procedure", "timepoint"],
                condition=Q(voided_at=None) & ~Q(procedure=None) & ~Q(timepoint="unscheduled"),
                name="review_once_per_procedure_and_timepoint",
                violation_error_message="This contact is already scheduled.",
            ),
            models.UniqueConstraint(
                fields=["fracture", "timepoint"],
                condition=Q(voided_at=None, procedure=None) & ~Q(timepoint="unscheduled"),
                name="review_once_per_fracture_and_timepoint",
                violation_error_message="This contact is already scheduled.",
            ),
            models.CheckConstraint(
                condition=Q(held_on=None) | ~Q(recorded_by=None),
                name="review_held_names_who_recorded",
                violation_error_message="A contact that took place names who recorded it.",
            ),
            models.CheckConstraint(
                condition=Q(red_flags__contained_by=["none"])
                | (~Q(red_flags_told="") & ~Q(red_flags_told_at=None)),
                name="review_red_flag_was_told",
                violation_error_message="Say who was told of the warning sign, and when.",
            ),
            known("review", "mode", CONTACT_MODE),
            known("review", "informant", INFORMANT),
            each_known("review", "red_flags", RED_FLAG),
            voiding("review"),
        ]
        indexes: ClassVar = [
            models.Index(
                fields=["closes_on"],
                condition=Q(held_on=None, voided_at=None),
                name="review_waiting",
            )
        ]

    def __str__(self) -> str:
        return self.timepoint.replace("_", " ")

    @property
    def closed_before_entry(self) -> bool:
        """Whether its window had closed before its procedure was entered from a list.

        Nobody can say then that it was missed: it may have taken place elsewhere.
        """
        from_list = self.procedure is not None and self.procedure.state == "earlier"
        return from_list and self.closes_on < localdate(self.created_at)


class Score(Record):
    """One value of one instrument at one contact, or the reason why there is none."""

    review = link(Review, related_name="scores")
    instrument = choice(INSTRUMENT, blank=False)
    value = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    unlikely_reason = text(200, help_text="Why an unlikely value is right")
    MAY_BE_ABSENT = ("value",)

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["review", "instrument"],
                condition=Q(voided_at=None),
                name="score_once_per_contact",
                violation_error_message="This score is already recorded for this contact.",
            ),
            models.CheckConstraint(
                condition=~Q(value=None) | Q(absent__has_key="value"),
                name="score_value_or_reason",
                violation_error_message="Enter a score, or say why there is none.",
            ),
            models.CheckConstraint(
                condition=Q(value=None)
                | Q(
                    *[
                        Q(instrument=code, value__gte=low, value__lte=high)
                        for code, (low, high) in SCORE_RANGE.items()
                    ],
                    _connector=Q.OR,
                ),
                name="score_value_possible",
                violation_error_message="The value is outside the range of this score.",
            ),
            known("score", "instrument", INSTRUMENT, blank=False),
            voiding("score"),
            *absence("score", values=["value"]),
        ]

    def __str__(self) -> str:
        return self.get_instrument_display()


class Attempt(Record):
    """One try to reach somebody for a contact."""

    review = link(Review, related_name="attempts")
    made_at = models.DateTimeField()
    made_by = link("User", related_name="+")
    mode = choice(CONTACT_MODE, blank=False)
    outcome = choice(ATTEMPT_OUTCOME, blank=False)
    next_try_on = models.DateField(null=True, blank=True)
    note = text(200)

    class Meta:
        ordering: ClassVar = ["-made_at", "-pk"]
        constraints: ClassVar = [
            known("attempt", "mode", CONTACT_MODE, blank=False),
            known("attempt", "outcome", ATTEMPT_OUTCOME, blank=False),
            voiding("attempt"),
        ]

    def __str__(self) -> str:
        return self.get_outcome_display()
