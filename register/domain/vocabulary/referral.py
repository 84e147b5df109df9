"""The referral, the fracture, laboratory and bone density."""

from typing import Final

from register.domain.vocabulary.base import Words

REFERRAL_SOURCE: Final[Words] = (
    ("emergency", "emergency department"),
    ("general_practice", "general practitioner"),
    ("ward", "hospital ward"),
    ("clinic", "another clinic"),
    ("fracture_liaison", "fracture liaison service"),
    ("oncology", "oncology"),
    ("other_hospital", "another hospital"),
)
DATE_PRECISION: Final[Words] = (
    ("day", "known to the day"),
    ("week", "within a week either way"),
    ("month", "month only"),
    ("year", "year only"),
)
MECHANISM: Final[Words] = (
    ("none", "no injury"),
    ("low", "low energy, such as a fall from standing"),
    ("high", "high energy"),
)
PAIN_TREND: Final[Words] = (
    ("improving", "improving"),
    ("steady", "unchanged"),
    ("worsening", "worsening"),
)
ANALGESIC_STEP: Final[Words] = (
    ("0", "none"),
    ("1", "simple analgesic"),
    ("2", "weak opioid"),
    ("3", "strong opioid"),
)
FAILURE_CRITERION: Final[Words] = (
    ("not_walking", "cannot walk despite 24 hours of analgesia"),
    ("no_physiotherapy", "pain prevents physiotherapy despite 24 hours of analgesia"),
    ("not_tolerated", "intolerable sedation, confusion or constipation from the analgesia needed"),
    ("none", "none of these"),
)
MOBILITY: Final[Words] = (
    ("independent", "walks without aid"),
    ("aid", "walks with an aid"),
    ("help", "walks with a person's help"),
    ("chair", "bed to chair"),
    ("bed", "in bed"),
)
NEUROLOGY: Final[Words] = (
    ("N0", "N0 intact"),
    ("N1", "N1 transient deficit, recovered"),
    ("N2", "N2 nerve root"),
    ("N3", "N3 incomplete cord or cauda equina"),
    ("N4", "N4 complete cord"),
    ("NX", "NX cannot be examined"),
)
ASIA: Final[Words] = tuple((grade, grade) for grade in "ABCDE")
ASA: Final[Words] = (
    ("1", "1 healthy"),
    ("2", "2 mild disease"),
    ("3", "3 severe disease"),
    ("4", "4 constant threat to life"),
    ("5", "5 moribund"),
)
ANTITHROMBOTIC: Final[Words] = (
    ("warfarin", "warfarin"),
    ("apixaban", "apixaban"),
    ("rivaroxaban", "rivaroxaban"),
    ("edoxaban", "edoxaban"),
    ("dabigatran", "dabigatran"),
    ("lmwh_prophylactic", "low molecular weight heparin, prophylactic"),
    ("lmwh_therapeutic", "low molecular weight heparin, therapeutic"),
    ("fondaparinux", "fondaparinux"),
    ("heparin_iv", "heparin, intravenous"),
    ("aspirin", "aspirin"),
    ("clopidogrel", "clopidogrel"),
    ("prasugrel", "prasugrel"),
    ("ticagrelor", "ticagrelor"),
    ("dipyridamole", "dipyridamole"),
    ("other", "another, named in the note"),
)
ANTITHROMBOTIC_INDICATION: Final[Words] = (
    ("atrial_fibrillation", "atrial fibrillation"),
    ("mechanical_valve", "mechanical heart valve"),
    ("venous_recent", "venous thrombosis or embolism within 3 months"),
    ("venous_old", "venous thrombosis or embolism, older"),
    ("stent_recent", "coronary stent within 12 months"),
    ("coronary", "coronary disease"),
    ("stroke_recent", "stroke or transient attack within 3 months"),
    ("stroke", "stroke, older"),
    ("peripheral", "peripheral arterial disease"),
    ("prophylaxis", "prophylaxis in hospital"),
    ("other", "another, named in the note"),
)
CANCER_HISTORY: Final[Words] = (
    ("no", "no"),
    ("past", "yes, in the past"),
    ("active", "yes, active or metastatic"),
)
INFECTION_SIGN: Final[Words] = (
    ("fever", "fever"),
    ("bacteraemia", "recent bloodstream infection"),
    ("night_pain", "pain at rest or at night"),
    ("immunosuppressed", "immune suppression"),
    ("injecting", "injecting drug use"),
    ("none", "none of these"),
)
INFECTION_STATE: Final[Words] = (
    ("none", "no infection known"),
    ("suspected", "infection of the spine suspected"),
    ("treated", "infection elsewhere, under treatment"),
    ("active", "active spinal or systemic infection"),
)
PREGNANCY: Final[Words] = (("no", "no"), ("yes", "yes"), ("possible", "possible"))
URGENCY: Final[Words] = (
    ("urgent", "urgent: within days"),
    ("soon", "soon: inside the window"),
    ("routine", "no clock"),
)
LAB_ANALYTE: Final[Words] = (
    ("inr", "INR"),
    ("platelets", "platelets, ×10⁹/L"),
    ("haemoglobin", "haemoglobin, g/L"),
    ("crp", "C-reactive protein, mg/L"),
    ("esr", "erythrocyte sedimentation rate, mm/h"),
    ("white_cells", "white cells, ×10⁹/L"),
    ("creatinine", "creatinine, µmol/L"),
    ("creatinine_clearance", "creatinine clearance, mL/min"),
    ("calcium", "adjusted calcium, mmol/L"),
    ("vitamin_d", "25-hydroxyvitamin D, nmol/L"),
    ("fibrinogen", "fibrinogen, g/L"),
)
LAB_UNIT: Final = {
    "inr": "ratio",
    "platelets": "×10⁹/L",
    "haemoglobin": "g/L",
    "crp": "mg/L",
    "esr": "mm/h",
    "white_cells": "×10⁹/L",
    "creatinine": "µmol/L",
    "creatinine_clearance": "mL/min",
    "calcium": "mmol/L",
    "vitamin_d": "nmol/L",
    "fibrinogen": "g/L",
}
BONE_SITE: Final[Words] = (
    ("lumbar", "lumbar spine"),
    ("hip", "total hip"),
    ("neck", "femoral neck"),
    ("forearm", "forearm"),
)
REFERRAL_STATE: Final[Words] = (
    ("open", "open"),
    ("closed", "closed"),
)
FRACTURE_STATE: Final[Words] = (
    ("waiting", "waiting for a decision or a procedure"),
    ("conservative", "conservative care"),
    ("listed", "decided for a procedure"),
    ("treated", "treated"),
    ("transferred", "passed on"),
    ("old", "old, not treated here"),
    ("closed", "closed without treatment"),
)

FRACTURE_CAUSE: Final[Words] = (
    ("osteoporotic", "osteoporotic"),
    ("tumour", "tumour"),
    ("trauma", "trauma in normal bone"),
    ("infection", "infection"),
    ("unclear", "not clear yet"),
)
