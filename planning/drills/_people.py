"""Random records of invented people, with rows in every table that hangs on a patient."""

from datetime import date, time, timedelta
from decimal import Decimal
from random import Random
from typing import Any

from django.utils import timezone

from planning.models import (
    Assessment,
    Decision,
    ListEntry,
    PlannedApproach,
    PlannedLevel,
    ProcedurePlan,
    RuleResult,
    TheatreSession,
)
from register.domain.levels import TREATABLE_CODES
from register.models import (
    Attempt,
    BoneDensity,
    CementUse,
    Complication,
    Fracture,
    ImageFile,
    ImageFrame,
    ImageSeries,
    ImplantUse,
    LaboratoryResult,
    Leak,
    Marking,
    Measurement,
    Patient,
    PatientPhone,
    Procedure,
    Protocol,
    Reading,
    Referral,
    ReferralDrug,
    Review,
    Score,
    Site,
    Study,
    Task,
    Technique,
    TreatedLevel,
    User,
)

DAY = date(2027, 3, 1)


class Department:
    """A site with one person, one technique, one protocol; makes patients from a seed."""

    def __init__(self, name: str) -> None:
        self.site = Site.objects.create(name=name, code=name.lower().replace(" ", "-"))
        self.user = User.objects.create(username=f"{self.site.code}-user", site=self.site)
        self.user.role = "consultant"
        self.user.save()
        self.technique = Technique.objects.create(site=self.site, name="Balloon", route="balloon")
        self.protocol = Protocol.objects.create(
            site=self.site,
            name="Trial",
            starts_on=date(2024, 1, 1),
            values={},
            ruleset_id="trial",
            ruleset_digest="0" * 64,
            digest="0" * 64,
        )
        self.people = self.sessions = 0

    def patient(self, chance: Random) -> Patient:
        """Return a patient whose details are partly blank."""
        self.people += 1
        return Patient.objects.create(
            site=self.site,
            hospital_number=f"T{self.people:06d}",
            family_name=chance.choice(["Ashbeck", "Quillfeather"]),
            given_name="Maud",
            date_of_birth=date(1942, 5, chance.randint(1, 3)),
            sex=chance.choice(["female", "male", ""]),
            postcode=chance.choice(["", "HM1 1AA", "HM2 2BB"]),
            address=chance.choice(["", "1 Mill Lane", "2 Mill Lane"]),
            language=chance.choice(["", "Welsh"]),
            interpreter_needed=chance.choice([None, True, False]),
            kin_name=chance.choice(["", "Ann"]),
            alive_checked_on=chance.choice([None, DAY]),
        )

    def record(self, chance: Random) -> Patient:
        """Return a patient with a few rows of every kind."""
        patient = self.patient(chance)
        for _ in range(chance.randint(0, 2)):
            PatientPhone.objects.create(patient=patient, number="01632 960001")
        self._blood(patient, chance)
        levels = chance.sample(TREATABLE_CODES[-7:], k=chance.randint(1, 3))
        fractures = [self._fracture(patient, level, chance) for level in levels]
        for _ in range(chance.randint(0, 2)):
            self._study(patient, fractures, chance)
        for fracture in fractures:
            self._judged(fracture, chance)
        treated = [one for one in fractures if one.state in ("treated", "listed")]
        if treated:
            self._operated(patient, treated, chance)
        return patient

    def _blood(self, patient: Patient, chance: Random) -> None:
        for _ in range(chance.randint(0, 2)):
            LaboratoryResult.objects.create(
                patient=patient, analyte="crp", unit="mg/L", value=Decimal("4.2"), taken_on=DAY
            )
        BoneDensity.objects.create(patient=patient, measured_on=DAY, attenuation_hu=90)
        Task.objects.create(
            patient=patient, kind="result", title="See", owner=self.user, due_on=DAY
        )

    def _fracture(self, patient: Patient, level: str, chance: Random) -> Fracture:
        referral = None
        if chance.random() < 0.8:
            referral = Referral.objects.create(patient=patient, referred_on=DAY)
            ReferralDrug.objects.create(referral=referral, drug="other")
        onset = chance.choice([None, DAY - timedelta(days=20)])
        fracture = Fracture.objects.create(
            patient=patient,
            referral=referral,
            level=level,
            state=chance.choice(["waiting", "listed", "treated", "conservative"]),
            onset_on=onset,
            onset_precision="day" if onset else "",
        )
        if chance.random() < 0.3:
            voided = {"voided_at": timezone.now(), "void_reason": "Trial"}
            Fracture.objects.create(
                patient=patient, level=level, state="old", earlier_fracture=fracture, **voided
            )
        if chance.random() < 0.5:
            fracture.earlier_fracture = Fracture.objects.create(
                patient=patient, level=level, state="old"
            )
            fracture.save()
        return fracture

    def _study(self, patient: Patient, fractures: list[Fracture], chance: Random) -> None:
        study = Study.objects.create(patient=patient, modality="mri", performed_on=DAY)
        for fracture in fractures:
            reading = Reading.objects.create(
                study=study,
                level=fracture.level,
                observer=self.user,
                read_on=DAY,
                fracture=chance.choice([None, fracture]),
            )
            marking = self._marked(reading, chance) if chance.random() < 0.7 else None
            Measurement.objects.create(
                reading=reading,
                observer=self.user,
                measured_on=DAY,
                depth_mm=Decimal("33.0"),
                marking=marking,
            )

    def _marked(self, reading: Reading, chance: Random) -> Marking:
        """A film of the study with marks for this reading."""
        digest = f"{chance.getrandbits(256):064x}"
        study = reading.study
        file = ImageFile.objects.create(study=study, sha256=digest, size_bytes=9, kind="dicom")
        series = ImageSeries.objects.create(study=study, uid="1.2.3", plane="sagittal")
        frame = ImageFrame.objects.create(series=series, file=file, rows=64, columns=64)
        return Marking.objects.create(
            reading=reading, frame=frame, observer=self.user, marked_on=DAY, view="lateral"
        )

    def _judged(self, fracture: Fracture, chance: Random) -> None:
        assessment = Assessment.objects.create(
            fracture=fracture,
            protocol=self.protocol,
            made_by=self.user,
            as_of=DAY,
            stage="referral",
            ruleset_id="trial",
            ruleset_digest="0" * 64,
            facts={},
            answer="open",
            answer_words="Open",
        )
        RuleResult.objects.create(
            assessment=assessment,
            place=1,
            rule_id="trial",
            rule_version=1,
            title="Trial",
            stage="referral",
            effect="info",
            verdict="met",
            sentence="Trial.",
        )
        Decision.objects.create(
            fracture=fracture,
            assessment=assessment,
            route="balloon",
            reason="Trial",
            decided_on=DAY,
            made_by=self.user,
        )
        if chance.random() < 0.5:
            review = self._contact(fracture.patient, fracture=fracture)
            Score.objects.create(review=review, instrument="pain_now", value=3)

    def _operated(self, patient: Patient, fractures: list[Fracture], chance: Random) -> None:
        day = DAY + timedelta(days=chance.randint(0, 6))
        procedure = Procedure.objects.create(
            patient=patient, technique=self.technique, performed_on=day, operator=self.user
        )
        plan = ProcedurePlan.objects.create(patient=patient, technique=self.technique)
        for fracture in fractures:
            level = TreatedLevel.objects.create(procedure=procedure, fracture=fracture)
            ImplantUse.objects.create(level=level, lot="L1")
            CementUse.objects.create(level=level, side="left", volume_ml=Decimal("2.0"))
            Leak.objects.create(level=level, seen_on="fluoroscopy")
            Complication.objects.create(
                procedure=procedure, level=level, kind="infection", occurred_on=day
            )
            decision: Any = fracture.decisions.first()
            planned = PlannedLevel.objects.create(plan=plan, fracture=fracture, decision=decision)
            PlannedApproach.objects.create(level=planned, side="left", depth_mm=Decimal("52.0"))
        self.sessions += 1
        session = TheatreSession.objects.create(
            site=self.site,
            held_on=day,
            starts_at=time(8, 30),
            minutes=240,
            room=f"Theatre {self.sessions}",
        )
        linked = chance.choice([None, procedure])
        ListEntry.objects.create(
            session=session, plan=plan, place=1, minutes=45, state="done", procedure=linked
        )
        review = self._contact(patient, procedure=procedure)
        Attempt.objects.create(
            review=review,
            made_at=timezone.now(),
            made_by=self.user,
            mode="telephone",
            outcome="no_answer",
        )

    def _contact(self, patient: Patient, **what: Any) -> Review:
        return Review.objects.create(
            patient=patient,
            timepoint="weeks_2_4",
            anchor_on=DAY,
            target_on=DAY,
            opens_on=DAY,
            closes_on=DAY,
            **what,
        )
