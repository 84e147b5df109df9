"""What was done: the procedure, each treated level, what was left inside, and where it leaked."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from register.domain.days import NOT_RECORDED
from register.domain.vocabulary import (
    ANAESTHESIA,
    APPROACH,
    CASE_STATE,
    COMPLICATION,
    COMPLICATION_CHECK,
    COMPLICATION_GRADE,
    IMPLANT_FATE,
    LEAK_CHECKED,
    LEAK_CONSEQUENCE,
    LEAK_PLACE,
    LEAK_ROUTE,
    LEAK_SEEN_ON,
    LEVEL_CHECK,
    POSTURE,
    SIDE,
    VISCOSITY,
)
from register.models.base import (
    Record,
    absence,
    choice,
    in_order,
    known,
    link,
    number,
    text,
    voiding,
    within,
)

_PROCEDURE_VALUES = ("needle_at", "ended_at", "dose_area_gy_cm2", "fluoroscopy_s")
_PROCEDURE_TEXTS = ("anaesthesia", "level_check", "antibiotic", "complication_check")


class Procedure(Record):
    """One session in theatre for one patient; one or more levels.

    An "earlier" one was taken from a list of procedures done before the register was there:
    nobody signed it here, and whoever operated may have no account (`operator_words`).
    """

    patient = link("Patient", related_name="procedures")
    technique = link("Technique", related_name="procedures")
    performed_on = models.DateField()
    state = choice(CASE_STATE, blank=False, default="open")
    operator = link("User", null=True, blank=True, related_name="operations")
    operator_words = text(120, help_text="Operator, by the name in the list")
    supervisor = link("User", null=True, blank=True, related_name="supervised_operations")
    anaesthesia = choice(ANAESTHESIA)
    position = choice(POSTURE)
    in_room_at = models.TimeField(null=True, blank=True)
    needle_at = models.TimeField(null=True, blank=True, help_text="First needle")
    ended_at = models.TimeField(null=True, blank=True)
    level_check = choice(LEVEL_CHECK, help_text="How the level was confirmed")
    antibiotic = text(120)
    local_anaesthetic_note = text(200)
    sedation_note = text(200)
    room_temperature_c = number(3, 1)
    dose_area_gy_cm2 = number(7, 2, help_text="Dose-area product, Gy·cm²")
    fluoroscopy_s = models.PositiveIntegerField(null=True, blank=True)
    lowest_spo2_percent = models.PositiveSmallIntegerField(null=True, blank=True)
    systolic_fall_percent = models.PositiveSmallIntegerField(null=True, blank=True)
    consciousness_lost = models.BooleanField(null=True, blank=True)
    complication_check = choice(COMPLICATION_CHECK)
    discharged_on = models.DateField(null=True, blank=True)
    readmitted_on = models.DateField(null=True, blank=True)
    note = models.TextField(blank=True, default="")
    signed_by = link("User", null=True, blank=True, related_name="+")
    signed_at = models.DateTimeField(null=True, blank=True)
    MAY_BE_ABSENT = (*_PROCEDURE_VALUES, *_PROCEDURE_TEXTS)

    class Meta:
        ordering: ClassVar = ["-performed_on", "-pk"]
        constraints: ClassVar = [
            known("procedure", "state", CASE_STATE, blank=False),
            known("procedure", "anaesthesia", ANAESTHESIA),
            known("procedure", "position", POSTURE),
            known("procedure", "level_check", LEVEL_CHECK),
            known("procedure", "complication_check", COMPLICATION_CHECK),
            within("procedure", "dose_area_gy_cm2", 0, 2000, "Dose-area product in Gy·cm²"),
            within("procedure", "fluoroscopy_s", 0, 14400, "Fluoroscopy time in seconds"),
            within("procedure", "lowest_spo2_percent", 0, 100, "Oxygen saturation in %"),
            within("procedure", "systolic_fall_percent", 0, 100, "Fall of blood pressure in %"),
            within("procedure", "room_temperature_c", 5, 45, "Room temperature in °C"),
            in_order(
                "procedure", "performed_on", "discharged_on", "Discharged before the procedure."
            ),
            in_order(
                "procedure", "performed_on", "readmitted_on", "Readmitted before the procedure."
            ),
            in_order("procedure", "needle_at", "ended_at", "The end is before the first needle."),
            models.CheckConstraint(
                condition=Q(state__in=["open", "earlier"], signed_by=None, signed_at=None)
                | (Q(state="signed") & ~Q(signed_by=None) & ~Q(signed_at=None)),
                name="procedure_signed_by_a_person",
                violation_error_message="A signed record has a name and a time.",
            ),
            models.CheckConstraint(
                condition=~Q(operator=None) | Q(state="earlier"),
                name="procedure_names_its_operator",
                violation_error_message="Say who operated.",
            ),
            models.UniqueConstraint(
                fields=["patient", "performed_on", "technique"],
                condition=Q(voided_at=None),
                name="procedure_once_a_day",
                violation_error_message="This procedure is already recorded for that day.",
            ),
            voiding("procedure"),
            *absence("procedure", values=_PROCEDURE_VALUES, texts=_PROCEDURE_TEXTS),
        ]
        indexes: ClassVar = [models.Index(fields=["performed_on"], name="procedure_by_day")]

    def __str__(self) -> str:
        return f"{self.technique}, {self.performed_on:%d %b %Y}"

    @property
    def operated_by(self) -> str:
        """Who operated: a person of the register, else the name in the list, else not recorded."""
        return str(self.operator or self.operator_words or NOT_RECORDED)


class TreatedLevel(Record):
    """One fracture as it was treated. `leak_check` tells "none seen" from "not looked for"."""

    procedure = link(Procedure, related_name="levels")
    fracture = link("Fracture", related_name="treatments")
    side = choice(SIDE)
    approach = choice(APPROACH)
    biopsy_taken = models.BooleanField(null=True, blank=True)
    leak_check = choice(LEAK_CHECKED)
    leak_checked_on = choice(LEAK_SEEN_ON)
    MAY_BE_ABSENT = ("side", "approach", "biopsy_taken", "leak_check")

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["procedure", "fracture"],
                condition=Q(voided_at=None),
                name="level_once_per_procedure",
                violation_error_message="This fracture is already among the treated levels.",
            ),
            known("treated_level", "side", SIDE),
            known("treated_level", "approach", APPROACH),
            known("treated_level", "leak_check", LEAK_CHECKED),
            known("treated_level", "leak_checked_on", LEAK_SEEN_ON),
            models.CheckConstraint(
                condition=Q(leak_check="") | ~Q(leak_checked_on=""),
                name="treated_level_leak_check_has_imaging",
                violation_error_message="Say on which images leaks were looked for.",
            ),
            voiding("treated_level"),
            *absence(
                "treated_level",
                values=["biopsy_taken"],
                texts=["side", "approach", "leak_check"],
            ),
        ]

    def __str__(self) -> str:
        return f"{self.fracture.level}"


class ImplantUse(Record):
    """One implant, with the scan as it came and what was read from it."""

    level = link(TreatedLevel, related_name="implants")
    stock_item = link("StockItem", null=True, blank=True, related_name="uses")
    side = choice(SIDE)
    fate = choice(IMPLANT_FATE, blank=False, default="implanted")
    size_label = text(40)
    raw_scan = text(200)
    gtin = text(14)
    lot = text(20)
    serial = text(20)
    produced_on = models.DateField(null=True, blank=True)
    expires_on = models.DateField(null=True, blank=True)
    expansion_mm = number(3, 1)

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            known("implant", "side", SIDE),
            known("implant", "fate", IMPLANT_FATE, blank=False),
            within("implant", "expansion_mm", 0, 30, "Expansion in mm"),
            models.CheckConstraint(
                condition=Q(gtin="") | Q(gtin__regex=r"^[0-9]{14}$"),
                name="implant_gtin_has_14_digits",
                violation_error_message="The item number has 14 digits; scan the label again.",
            ),
            models.UniqueConstraint(
                fields=["gtin", "serial"],
                condition=~Q(serial="") & Q(fate="implanted", voided_at=None),
                name="implant_serial_once",
                violation_error_message="This serial number is already recorded as implanted.",
            ),
            voiding("implant"),
        ]
        indexes: ClassVar = [
            models.Index(fields=["gtin", "lot"], name="implant_by_lot"),
        ]

    def __str__(self) -> str:
        return f"Implant {self.size_label}".strip()


class CementUse(Record):
    """Cement through one side of one level. Volume NULL is not recorded, never 0."""

    level = link(TreatedLevel, related_name="cement")
    side = choice(SIDE)
    volume_ml = number(4, 1)
    viscosity = choice(VISCOSITY)
    cement_class = text(60, help_text="Generic, for example acrylic")
    lot = text(20)
    expires_on = models.DateField(null=True, blank=True)
    working_minutes = number(3, 1)
    MAY_BE_ABSENT = ("volume_ml", "viscosity")

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            known("cement", "side", SIDE),
            known("cement", "viscosity", VISCOSITY),
            within("cement", "volume_ml", 0, 20, "Cement in mL per side"),
            within("cement", "working_minutes", 0, 60, "Working time in minutes"),
            models.UniqueConstraint(
                fields=["level", "side"],
                condition=Q(voided_at=None) & ~Q(side=""),
                name="cement_once_per_side",
                violation_error_message="Cement of this side is already recorded.",
            ),
            voiding("cement"),
            *absence("cement", values=["volume_ml"], texts=["viscosity"]),
        ]

    def __str__(self) -> str:
        return f"{self.volume_ml} mL" if self.volume_ml is not None else "volume not recorded"


class Leak(Record):
    """One leak of one level: by which route, to which place, seen on what."""

    level = link(TreatedLevel, related_name="leaks")
    route = choice(LEAK_ROUTE)
    place = choice(LEAK_PLACE)
    seen_on = choice(LEAK_SEEN_ON, blank=False)
    consequence = choice(LEAK_CONSEQUENCE)
    note = text(300)
    MAY_BE_ABSENT = ("route", "place", "consequence")

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            known("leak", "route", LEAK_ROUTE),
            known("leak", "place", LEAK_PLACE),
            known("leak", "seen_on", LEAK_SEEN_ON, blank=False),
            known("leak", "consequence", LEAK_CONSEQUENCE),
            voiding("leak"),
            *absence("leak", texts=["route", "place", "consequence"]),
        ]

    def __str__(self) -> str:
        return self.get_route_display() or "leak, route not recorded"


class Complication(Record):
    """Something that went wrong around a procedure, with its surgical grade."""

    procedure = link(Procedure, related_name="complications")
    level = link(TreatedLevel, null=True, blank=True, related_name="complications")
    kind = choice(COMPLICATION, blank=False)
    grade = choice(COMPLICATION_GRADE)
    occurred_on = models.DateField()
    incident_number = text(40)
    patient_told = models.BooleanField(null=True, blank=True)
    note = text(400)
    MAY_BE_ABSENT = ("grade", "patient_told")

    class Meta:
        ordering: ClassVar = ["occurred_on", "pk"]
        constraints: ClassVar = [
            known("complication", "kind", COMPLICATION, blank=False),
            known("complication", "grade", COMPLICATION_GRADE),
            voiding("complication"),
            *absence("complication", values=["patient_told"], texts=["grade"]),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()
