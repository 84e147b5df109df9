"""The referral: what is known of the patient on the day somebody asks for help."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from register.domain.levels import TREATABLE_CHOICES
from register.domain.vocabulary import (
    ANALGESIC_STEP,
    ANTITHROMBOTIC,
    ANTITHROMBOTIC_INDICATION,
    ASA,
    ASIA,
    BONE_SITE,
    CANCER_HISTORY,
    DATE_PRECISION,
    FAILURE_CRITERION,
    FRACTURE_CAUSE,
    FRACTURE_STATE,
    INFECTION_SIGN,
    INFECTION_STATE,
    LAB_ANALYTE,
    LAB_UNIT,
    MECHANISM,
    MOBILITY,
    MODALITY,
    NEUROLOGY,
    NO_MRI_REASON,
    PAIN_TREND,
    PREGNANCY,
    REFERRAL_SOURCE,
    REFERRAL_STATE,
    URGENCY,
)
from register.models.base import (
    CodeField,
    Record,
    absence,
    choice,
    each_known,
    in_order,
    known,
    link,
    number,
    several,
    text,
    voiding,
    within,
)

_VALUES = [
    "onset_on",
    "pain_rest",
    "pain_moving",
    "analgesia_days",
    "analgesia_optimal",
    "weight_kg",
    "height_cm",
    "frailty_index_5",
    "can_lie_prone",
    "liver_disease",
    "takes_antithrombotics",
    "allergy_to_cement",
    "allergy_to_contrast",
    "allergy_to_latex",
    "takes_steroids",
    "bone_drug_started_on",
]
_TEXTS = [
    "mechanism",
    "pain_trend",
    "analgesic_step",
    "mobility",
    "neurology",
    "asia_grade",
    "asa_grade",
    "allergies",
    "cancer_history",
    "infection_state",
    "pregnancy",
]
_LISTS = ("failure_criteria", "infection_signs")


class Referral(Record):
    """One request for help, as the referrer and the first examination describe it."""

    patient = link("Patient", related_name="referrals")
    state = choice(REFERRAL_STATE, blank=False, default="open")
    source = choice(REFERRAL_SOURCE)
    referrer_name = text(120)
    referred_on = models.DateField()
    received_on = models.DateField(null=True, blank=True)
    is_inpatient = models.BooleanField(null=True, blank=True)

    onset_on = models.DateField(null=True, blank=True)
    onset_precision = choice(DATE_PRECISION)
    mechanism = choice(MECHANISM)
    pain_rest = models.PositiveSmallIntegerField(null=True, blank=True)
    pain_moving = models.PositiveSmallIntegerField(null=True, blank=True)
    pain_trend = choice(PAIN_TREND)
    analgesic_step = choice(ANALGESIC_STEP)
    analgesia_tried = text(300)
    analgesia_days = models.PositiveSmallIntegerField(null=True, blank=True)
    analgesia_optimal = models.BooleanField(null=True, blank=True)
    failure_criteria = several(FAILURE_CRITERION)
    mobility = choice(MOBILITY)

    neurology = choice(NEUROLOGY)
    neurology_since = models.DateField(null=True, blank=True)
    asia_grade = choice(ASIA)

    weight_kg = number(4, 1)
    height_cm = number(4, 1)
    asa_grade = choice(ASA)
    frailty_index_5 = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="5-item modified frailty index, 0 to 5"
    )
    can_lie_prone = models.BooleanField(null=True, blank=True)
    heart_lung_note = text(300)
    liver_disease = models.BooleanField(null=True, blank=True)
    takes_antithrombotics = models.BooleanField(null=True, blank=True)
    allergies = text(300)
    allergy_to_cement = models.BooleanField(null=True, blank=True)
    allergy_to_contrast = models.BooleanField(null=True, blank=True)
    allergy_to_latex = models.BooleanField(null=True, blank=True)

    cancer_history = choice(CANCER_HISTORY)
    cancer_note = text(200)
    infection_signs = several(INFECTION_SIGN)
    infection_state = choice(INFECTION_STATE)
    infection_note = text(200)
    resistant_organism = text(120)
    takes_steroids = models.BooleanField(null=True, blank=True)
    bone_drug_started_on = models.DateField(null=True, blank=True)
    pregnancy = choice(PREGNANCY)

    no_mri_reason = choice(NO_MRI_REASON)
    no_mri_note = text(200)
    mri_equivalent = choice(MODALITY)

    urgency = choice(URGENCY)
    urgency_set_by = link("User", null=True, blank=True, related_name="+")
    urgency_set_on = models.DateField(null=True, blank=True)
    note = models.TextField(blank=True, default="")

    MAY_BE_ABSENT = (*_VALUES, *_TEXTS, *_LISTS)

    class Meta:
        ordering: ClassVar = ["-referred_on", "-pk"]
        constraints: ClassVar = [
            known("referral", "state", REFERRAL_STATE, blank=False),
            known("referral", "source", REFERRAL_SOURCE),
            known("referral", "onset_precision", DATE_PRECISION),
            known("referral", "mechanism", MECHANISM),
            known("referral", "pain_trend", PAIN_TREND),
            known("referral", "analgesic_step", ANALGESIC_STEP),
            known("referral", "mobility", MOBILITY),
            known("referral", "neurology", NEUROLOGY),
            known("referral", "asia_grade", ASIA),
            known("referral", "asa_grade", ASA),
            known("referral", "cancer_history", CANCER_HISTORY),
            known("referral", "infection_state", INFECTION_STATE),
            known("referral", "pregnancy", PREGNANCY),
            known("referral", "no_mri_reason", NO_MRI_REASON),
            known("referral", "mri_equivalent", MODALITY),
            known("referral", "urgency", URGENCY),
            each_known("referral", "failure_criteria", FAILURE_CRITERION),
            each_known("referral", "infection_signs", INFECTION_SIGN),
            within("referral", "pain_rest", 0, 10, "Pain at rest"),
            within("referral", "pain_moving", 0, 10, "Pain on movement"),
            within("referral", "analgesia_days", 0, 3650, "Days of analgesia"),
            within("referral", "weight_kg", 20, 300, "Weight in kg"),
            within("referral", "height_cm", 80, 230, "Height in cm"),
            within("referral", "frailty_index_5", 0, 5, "The 5-item frailty index"),
            in_order(
                "referral",
                "onset_on",
                "referred_on",
                "The referral is dated before the fracture began.",
            ),
            in_order("referral", "referred_on", "received_on", "Received before it was written."),
            models.CheckConstraint(
                condition=Q(onset_on=None) | ~Q(onset_precision=""),
                name="referral_onset_precision_given",
                violation_error_message="Say how exactly the date of onset is known.",
            ),
            models.CheckConstraint(
                condition=Q(urgency="") | (~Q(urgency_set_by=None) & ~Q(urgency_set_on=None)),
                name="referral_urgency_by_a_person",
                violation_error_message="Urgency is set by a named person on a day.",
            ),
            voiding("referral"),
            *absence("referral", values=_VALUES, texts=_TEXTS, lists=_LISTS),
        ]

    def __str__(self) -> str:
        return f"Referral of {self.referred_on:%d %b %Y}"


class ReferralDrug(Record):
    """An antithrombotic drug and what it is taken for."""

    referral = link(Referral, related_name="drugs")
    drug = choice(ANTITHROMBOTIC, blank=False)
    indication = choice(ANTITHROMBOTIC_INDICATION)
    dose = text(80)
    last_taken_on = models.DateField(null=True, blank=True)
    note = text(200)
    MAY_BE_ABSENT = ("indication", "last_taken_on")

    class Meta:
        constraints: ClassVar = [
            known("drug", "drug", ANTITHROMBOTIC, blank=False),
            known("drug", "indication", ANTITHROMBOTIC_INDICATION),
            models.UniqueConstraint(
                fields=["referral", "drug"],
                condition=Q(voided_at=None) & ~Q(drug="other"),
                name="drug_once_per_referral",
                violation_error_message="This drug is already on the list.",
            ),
            voiding("drug"),
            *absence("drug", values=["last_taken_on"], texts=["indication"]),
        ]

    def __str__(self) -> str:
        return self.get_drug_display()


class LaboratoryResult(Record):
    """One value of one blood test on one day, in the unit of the register."""

    patient = link("Patient", related_name="laboratory_results")
    analyte = choice(LAB_ANALYTE, blank=False)
    value = models.DecimalField(max_digits=8, decimal_places=2)
    unit = models.CharField(max_length=12, choices=[(u, u) for u in sorted(set(LAB_UNIT.values()))])
    taken_on = models.DateField()

    class Meta:
        ordering: ClassVar = ["-taken_on", "-pk"]
        constraints: ClassVar = [
            known("laboratory", "analyte", LAB_ANALYTE, blank=False),
            models.CheckConstraint(
                condition=Q(value__gte=0),
                name="laboratory_value_not_negative",
                violation_error_message="A laboratory value cannot be below 0.",
            ),
            models.CheckConstraint(
                condition=Q(*[Q(analyte=a, unit=u) for a, u in LAB_UNIT.items()], _connector=Q.OR),
                name="laboratory_unit_of_the_test",
                violation_error_message="This test is kept in another unit; convert it first.",
            ),
            voiding("laboratory"),
        ]

    def __str__(self) -> str:
        return f"{self.get_analyte_display()} {self.value}"


class BoneDensity(Record):
    """T-score with its site, or CT attenuation in HU with its level, on one day."""

    patient = link("Patient", related_name="bone_densities")
    measured_on = models.DateField()
    t_score = number(3, 1)
    site = choice(BONE_SITE)
    attenuation_hu = models.SmallIntegerField(null=True, blank=True)
    attenuation_level = CodeField(max_length=3, choices=TREATABLE_CHOICES, blank=True, default="")

    class Meta:
        ordering: ClassVar = ["-measured_on", "-pk"]
        constraints: ClassVar = [
            known("bone_density", "site", BONE_SITE),
            within("bone_density", "t_score", -8, 8, "The T-score"),
            within("bone_density", "attenuation_hu", -200, 1000, "Attenuation in HU"),
            models.CheckConstraint(
                condition=~Q(t_score=None) | ~Q(attenuation_hu=None),
                name="bone_density_has_a_value",
                violation_error_message="Give a T-score or the attenuation in HU.",
            ),
            models.CheckConstraint(
                condition=Q(t_score=None) | ~Q(site=""),
                name="bone_density_t_score_has_site",
                violation_error_message="Say where the T-score was measured.",
            ),
            voiding("bone_density"),
        ]

    def __str__(self) -> str:
        return f"Bone density {self.measured_on:%d %b %Y}"


class Fracture(Record):
    """One vertebral level, one onset."""

    patient = link("Patient", related_name="fractures")
    referral = link(Referral, null=True, blank=True, related_name="fractures")
    level = CodeField(max_length=3, choices=TREATABLE_CHOICES)
    onset_on = models.DateField(null=True, blank=True)
    onset_precision = choice(DATE_PRECISION)
    state = choice(FRACTURE_STATE, blank=False, default="waiting")
    cause = choice(FRACTURE_CAUSE)
    tender = models.BooleanField(null=True, blank=True, help_text="Tender over this level")
    matches_imaging = models.BooleanField(
        null=True, blank=True, help_text="The point of greatest pain matches the image"
    )
    earlier_fracture = link("self", null=True, blank=True, related_name="later_fractures")
    MAY_BE_ABSENT = ("onset_on", "tender", "matches_imaging", "cause")

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(level__in=[code for code, _ in TREATABLE_CHOICES]),
                name="fracture_level_known",
                violation_error_message="Choose a level from T1 to L5.",
            ),
            known("fracture", "state", FRACTURE_STATE, blank=False),
            known("fracture", "cause", FRACTURE_CAUSE),
            known("fracture", "onset_precision", DATE_PRECISION),
            models.CheckConstraint(
                condition=Q(onset_on=None) | ~Q(onset_precision=""),
                name="fracture_onset_precision_given",
                violation_error_message="Say how exactly the date of onset is known.",
            ),
            models.UniqueConstraint(
                fields=["patient", "level"],
                condition=Q(state__in=["waiting", "listed"], voided_at=None),
                name="fracture_waits_once_per_level",
                violation_error_message="A fracture of this level is already waiting.",
            ),
            models.UniqueConstraint(
                fields=["patient", "level", "onset_on"],
                condition=Q(voided_at=None),
                name="fracture_once_per_level_and_onset",
                violation_error_message="This fracture, with this onset, is already recorded.",
            ),
            voiding("fracture"),
            *absence("fracture", values=["onset_on", "tender", "matches_imaging"], texts=["cause"]),
        ]
        indexes: ClassVar = [models.Index(fields=["state"], name="fracture_by_state")]

    def __str__(self) -> str:
        return f"{self.level} fracture"
