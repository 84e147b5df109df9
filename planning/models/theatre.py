"""What is planned, and in which session."""

from typing import ClassVar

from django.db import models
from django.db.models import Deferrable, Q

from register.domain.approach.one_sided import one_sided_prompt
from register.domain.vocabulary import (
    ANAESTHESIA,
    APPROACH,
    LIST_STATE,
    PLAN_STATE,
    POSTURE,
    SIDE,
    VISCOSITY,
)
from register.models.base import Record, choice, known, link, number, text, voiding, within


class ProcedurePlan(Record):
    """How one patient is to be treated in one session; one or more levels."""

    patient = link("register.Patient", related_name="plans")
    technique = link("register.Technique", related_name="plans")
    state = choice(PLAN_STATE, blank=False, default="draft")
    anaesthesia = choice(ANAESTHESIA)
    position = choice(POSTURE)
    antibiotic = text(120)
    expected_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    drugs_note = text(
        400, help_text="Drugs to stop; dates only by the table this department approved"
    )
    imaging_note = text(200)
    note = models.TextField(blank=True, default="")
    approved_by = link("register.User", null=True, blank=True, related_name="+")
    approved_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-pk"]
        constraints: ClassVar = [
            known("plan", "state", PLAN_STATE, blank=False),
            known("plan", "anaesthesia", ANAESTHESIA),
            known("plan", "position", POSTURE),
            within("plan", "expected_minutes", 5, 600, "Expected minutes"),
            models.CheckConstraint(
                condition=Q(state="draft", approved_by=None, approved_at=None)
                | (Q(state="approved") & ~Q(approved_by=None) & ~Q(approved_at=None)),
                name="plan_approved_by_a_person",
                violation_error_message="An approved plan has a name and a time.",
            ),
            voiding("plan"),
        ]

    def __str__(self) -> str:
        return f"Plan: {self.technique}"


class PlannedLevel(Record):
    """One fracture inside a plan, with the decision that it carries out."""

    plan = link(ProcedurePlan, related_name="levels")
    fracture = link("register.Fracture", related_name="planned_levels")
    decision = link("planning.Decision", related_name="planned_levels")
    side = choice(SIDE)
    approach = choice(APPROACH)
    biopsy = models.BooleanField(null=True, blank=True)
    implant_size_label = text(40)
    implant_count = models.PositiveSmallIntegerField(null=True, blank=True)
    viscosity = choice(VISCOSITY)
    cement_ml = number(4, 1, help_text="Orientation per level in mL, not a target")

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            known("planned_level", "side", SIDE),
            known("planned_level", "approach", APPROACH),
            known("planned_level", "viscosity", VISCOSITY),
            within("planned_level", "cement_ml", 0, 20, "Cement in mL"),
            within("planned_level", "implant_count", 0, 4, "The number of implants"),
            models.UniqueConstraint(
                fields=["plan", "fracture"],
                condition=Q(voided_at=None),
                name="planned_level_once_per_plan",
                violation_error_message="This fracture is already in the plan.",
            ),
            voiding("planned_level"),
        ]

    def __str__(self) -> str:
        return self.fracture.level

    @property
    def one_sided_prompt(self) -> str:
        """What to consider for a needle from one side only; blank when there is nothing."""
        return one_sided_prompt(self.fracture.level, self.side)


class TheatreSession(Record):
    """A stretch of theatre time that the department may fill."""

    site = link("register.Site", related_name="theatre_sessions")
    held_on = models.DateField()
    starts_at = models.TimeField()
    minutes = models.PositiveSmallIntegerField()
    room = text(60)
    consultant = link("register.User", null=True, blank=True, related_name="theatre_sessions")
    anaesthetist = models.BooleanField(null=True, blank=True)
    image_intensifiers = models.PositiveSmallIntegerField(null=True, blank=True)
    beds = models.PositiveSmallIntegerField(null=True, blank=True)
    people = text(300)
    cancelled_reason = text(200)
    note = text(300)

    class Meta:
        ordering: ClassVar = ["held_on", "starts_at", "pk"]
        constraints: ClassVar = [
            within("session", "minutes", 30, 720, "Minutes of the session"),
            models.UniqueConstraint(
                fields=["site", "held_on", "starts_at", "room"],
                condition=Q(voided_at=None),
                name="session_once_per_room_and_time",
                violation_error_message="A session of this room and time exists already.",
            ),
            voiding("session"),
        ]

    def __str__(self) -> str:
        return f"{self.held_on:%d %b %Y} {self.starts_at:%H:%M}"


class ListEntry(Record):
    """One plan on one list, in its place; later the procedure that came of it."""

    session = link(TheatreSession, related_name="entries")
    plan = link(ProcedurePlan, related_name="entries")
    place = models.PositiveSmallIntegerField()
    minutes = models.PositiveSmallIntegerField()
    state = choice(LIST_STATE, blank=False, default="planned")
    cancelled_reason = text(200)
    procedure = models.OneToOneField(
        "register.Procedure", models.PROTECT, null=True, blank=True, related_name="list_entry"
    )

    class Meta:
        ordering: ClassVar = ["place", "pk"]
        constraints: ClassVar = [
            known("entry", "state", LIST_STATE, blank=False),
            within("entry", "minutes", 5, 600, "Minutes of the entry"),
            models.UniqueConstraint(
                fields=["session", "place"],
                name="entry_place_once",
                deferrable=Deferrable.DEFERRED,
            ),
            models.UniqueConstraint(
                fields=["plan"],
                condition=Q(state="planned", voided_at=None),
                name="entry_plan_listed_once",
                violation_error_message="This plan is already on a list.",
            ),
            models.CheckConstraint(
                condition=~Q(state="cancelled") | ~Q(cancelled_reason=""),
                name="entry_cancelled_with_reason",
                violation_error_message="Say why the case was taken off the list.",
            ),
            voiding("entry"),
        ]

    def __str__(self) -> str:
        return f"{self.place}."
