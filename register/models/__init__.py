"""The facts of the register, one module per noun."""

from register.models.accounts import AccessLog, Draft, FormReceipt, Site, User
from register.models.department import Protocol, StockItem, Task, Technique
from register.models.files import ColumnMapping, FileImport, TheatreLogEntry
from register.models.images import ImageFile, ImageFrame, ImageSeries, Marking
from register.models.imaging import Measurement, Reading, Study
from register.models.outcomes import Attempt, Review, Score
from register.models.patients import Patient, PatientPhone
from register.models.procedures import (
    CementUse,
    Complication,
    ImplantUse,
    Leak,
    Procedure,
    TreatedLevel,
)
from register.models.referrals import (
    BoneDensity,
    Fracture,
    LaboratoryResult,
    Referral,
    ReferralDrug,
)
from register.models.transfers import RecordTransfer

__all__ = [
    "AccessLog",
    "Attempt",
    "BoneDensity",
    "CementUse",
    "ColumnMapping",
    "Complication",
    "Draft",
    "FileImport",
    "FormReceipt",
    "Fracture",
    "ImageFile",
    "ImageFrame",
    "ImageSeries",
    "ImplantUse",
    "LaboratoryResult",
    "Leak",
    "Marking",
    "Measurement",
    "Patient",
    "PatientPhone",
    "Procedure",
    "Protocol",
    "Reading",
    "RecordTransfer",
    "Referral",
    "ReferralDrug",
    "Review",
    "Score",
    "Site",
    "StockItem",
    "Study",
    "Task",
    "Technique",
    "TheatreLogEntry",
    "TreatedLevel",
    "User",
]
