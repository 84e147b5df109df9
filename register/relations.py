"""The relations of the facts: "app.Model.field" and what it says about whose the row is."""

from typing import Final

from register.domain.relations import APART, PART, Relation, agrees, follows, own

RELATIONS: Final[dict[str, Relation]] = {
    "register.Referral.patient": own("referral", "referrals"),
    "register.Fracture.patient": own("fracture", "fractures"),
    "register.Study.patient": own("study", "studies"),
    "register.Procedure.patient": own("procedure", "procedures"),
    "register.Review.patient": own("follow-up contact", "follow-up contacts"),
    "register.LaboratoryResult.patient": own("laboratory result", "laboratory results"),
    "register.BoneDensity.patient": own("bone density", "bone densities"),
    "register.Task.patient": own("task", "tasks"),
    "register.PatientPhone.patient": own("telephone number", "telephone numbers"),
    "register.ReferralDrug.referral": PART,
    "register.Reading.study": PART,
    "register.Measurement.reading": PART,
    "register.ImageFile.study": PART,
    "register.ImageSeries.study": PART,
    "register.ImageFrame.series": PART,
    "register.Marking.reading": PART,
    "register.TreatedLevel.procedure": PART,
    "register.ImplantUse.level": PART,
    "register.CementUse.level": PART,
    "register.Leak.level": PART,
    "register.Complication.procedure": PART,
    "register.Score.review": PART,
    "register.Attempt.review": PART,
    "register.Fracture.referral": follows("was entered with"),
    "register.Review.procedure": follows("follows"),
    "register.Review.fracture": follows("follows"),
    "register.Fracture.earlier_fracture": agrees("came after"),
    "register.Reading.fracture": agrees("shows"),
    "register.TreatedLevel.fracture": agrees("treats"),
    "register.Complication.level": agrees("names a level of"),
    # Who looked at a page stays with the page that was looked at.
    "register.AccessLog.patient": APART,
    "register.RecordTransfer.from_patient": APART,
    "register.RecordTransfer.to_patient": APART,
    # Of the same study as the row itself, which is part of it already.
    "register.ImageFrame.file": APART,
    "register.Marking.frame": APART,
    "register.Marking.repeats": APART,
    "register.Measurement.marking": APART,
    # A line of the hospital's log is compared with a procedure, whosever it is.
    "register.TheatreLogEntry.procedure": APART,
}
