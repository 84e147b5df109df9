"""The patient and how to reach them."""

from typing import ClassVar

from django.db import models
from django.db.models import BooleanField, F, Func, Q, UniqueConstraint
from django.urls import reverse

from register.domain.vocabulary import PHONE_KIND, REVIEW_END, SEX
from register.models.base import Record, absence, choice, in_order, known, link, text, voiding


class Patient(Record):
    """One person at one site."""

    site = link("Site", related_name="patients")
    hospital_number = models.CharField(max_length=24)
    nhs_number = models.CharField(max_length=10, blank=True, default="")
    family_name = models.CharField(max_length=80)
    given_name = models.CharField(max_length=80)
    date_of_birth = models.DateField()
    sex = choice(SEX)
    date_of_death = models.DateField(null=True, blank=True)
    alive_checked_on = models.DateField(null=True, blank=True)

    address = text(300)
    postcode = text(10)
    kin_name = text(120, help_text="Next of kin or carer")
    kin_relation = text(60)
    care_home = text(160)
    practitioner_name = text(120, help_text="General practitioner")
    practice_name = text(160)
    practice_address = text(300)

    language = text(60)
    interpreter_needed = models.BooleanField(null=True, blank=True)
    hearing_need = text(120)
    sight_need = text(120)
    capacity_note = text(300)
    objects_to_other_use = models.BooleanField(
        null=True, blank=True, help_text="Objects to use beyond care and local audit"
    )

    follow_up_end = choice(REVIEW_END)
    follow_up_ended_on = models.DateField(null=True, blank=True)
    follow_up_end_source = text(200)

    MAY_BE_ABSENT = ("nhs_number", "sex", "interpreter_needed", "address", "practitioner_name")

    class Meta:
        ordering: ClassVar = ["family_name", "given_name", "pk"]
        constraints: ClassVar = [
            UniqueConstraint(
                fields=["site", "hospital_number"],
                name="patient_hospital_number_once",
                violation_error_message="This hospital number belongs to another patient.",
            ),
            UniqueConstraint(
                fields=["site", "nhs_number"],
                condition=~Q(nhs_number="") & Q(voided_at=None),
                name="patient_nhs_number_once",
                violation_error_message="This NHS Number belongs to another patient.",
            ),
            models.CheckConstraint(
                # The database function is made in the first migration: modulus 11 with
                # weights 10 to 2 (NHS Data Dictionary, NHS Number; published).
                condition=Func(
                    F("nhs_number"),
                    function="register_nhs_number_fits",
                    output_field=BooleanField(),
                ),
                name="patient_nhs_number_checked",
                violation_error_message=(
                    "The NHS Number has a mistyped digit: its check digit does not fit."
                ),
            ),
            known("patient", "sex", SEX),
            known("patient", "follow_up_end", REVIEW_END),
            in_order(
                "patient",
                "date_of_birth",
                "date_of_death",
                "The date of death is before the date of birth.",
            ),
            models.CheckConstraint(
                condition=Q(follow_up_end="", follow_up_ended_on=None)
                | (~Q(follow_up_end="") & ~Q(follow_up_ended_on=None)),
                name="patient_follow_up_end_dated",
                violation_error_message="Give both how follow-up ended and on which day.",
            ),
            voiding("patient"),
            *absence(
                "patient",
                texts=["nhs_number", "sex", "address", "practitioner_name"],
                values=["interpreter_needed"],
            ),
        ]

    def __str__(self) -> str:
        return f"{self.family_name.upper()}, {self.given_name}"

    def get_absolute_url(self) -> str:
        return reverse("patient-record", args=[self.pk])


class PatientPhone(Record):
    """A telephone number with when to ring it and whether a message may be left."""

    patient = link(Patient, related_name="phones")
    number = models.CharField(max_length=24)
    kind = choice(PHONE_KIND)
    times = text(80, help_text="When to ring, for example after 10:00")
    message_allowed = models.BooleanField(null=True, blank=True)

    class Meta:
        constraints: ClassVar = [known("phone", "kind", PHONE_KIND), voiding("phone")]

    def __str__(self) -> str:
        return self.number
