"""Closed vocabularies: (code, words) pairs as plain strings.

One list serves the models, the forms, the rules and the audit. A blank text
is "not recorded"; the reasons why a field is deliberately empty are ABSENT.
"""

from typing import Final

Words = tuple[tuple[str, str], ...]

ABSENT: Final[Words] = (
    ("not_known", "not known"),
    ("not_done", "not done"),
    ("not_applicable", "not applicable"),
    ("declined", "declined"),
)
YES_NO: Final[Words] = (("yes", "yes"), ("no", "no"))

# --- people -----------------------------------------------------------------
SEX: Final[Words] = (("female", "female"), ("male", "male"), ("other", "other"))
PHONE_KIND: Final[Words] = (
    ("home", "home"),
    ("mobile", "mobile"),
    ("work", "work"),
    ("carer", "next of kin or carer"),
    ("care_home", "care home"),
)
ROLE: Final[Words] = (
    ("consultant", "consultant"),
    ("nurse", "specialist nurse"),
    ("lead", "governance lead"),
    ("administrator", "administrator"),
)

# --- referral ---------------------------------------------------------------
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

# --- imaging ----------------------------------------------------------------
MODALITY: Final[Words] = (
    ("film", "film"),
    ("ct", "CT"),
    ("mri", "MRI"),
    ("bone_scan", "bone scan"),
    ("spect_ct", "SPECT-CT"),
    ("dxa", "DXA lateral"),
    ("fluoroscopy", "fluoroscopy"),
)
POSTURE: Final[Words] = (
    ("standing", "standing"),
    ("sitting", "sitting"),
    ("supine", "lying on the back"),
    ("prone", "lying on the front"),
    ("lateral", "lying on the side"),
)
COUNTED_FROM: Final[Words] = (
    ("c2", "down from C2"),
    ("t1_rib", "down from the first rib"),
    ("t12_rib", "last rib"),
    ("sacrum", "up from the sacrum"),
    ("iliolumbar", "iliolumbar ligament"),
)
TRANSITIONAL: Final[Words] = (
    ("no", "none seen"),
    ("lumbarised", "lumbarised S1"),
    ("sacralised", "sacralised L5"),
    ("thoracolumbar", "at the thoracolumbar junction"),
)
NO_MRI_REASON: Final[Words] = (
    ("device", "implanted device"),
    ("claustrophobia", "claustrophobia"),
    ("pain", "cannot lie still"),
    ("size", "body size"),
    ("other", "another reason, named in the note"),
)
END_PLATE: Final[Words] = (
    ("none", "neither"),
    ("superior", "upper"),
    ("inferior", "lower"),
    ("both", "both"),
)
OEDEMA: Final[Words] = (
    ("none", "none"),
    ("band", "band"),
    ("partial", "part of the body"),
    ("whole", "whole body"),
)
POSTERIOR_WALL: Final[Words] = (
    ("intact", "intact"),
    ("under_fifth", "involved, less than one fifth"),
    ("fifth_or_more", "involved, one fifth or more"),
)
EPIDURAL_GRADE: Final[Words] = tuple(
    (grade, words)
    for grade, words in (
        ("0", "0 bone only"),
        ("1a", "1a epidural, sac not deformed"),
        ("1b", "1b sac deformed, cord not touched"),
        ("1c", "1c sac deformed, cord touched"),
        ("2", "2 cord compressed, fluid seen"),
        ("3", "3 cord compressed, no fluid seen"),
    )
)
TENSION_BAND: Final[Words] = (
    ("intact", "intact"),
    ("suspected", "injury suspected"),
    ("injured", "injured"),
)
HEIGHT_METHOD: Final[Words] = (
    ("ruler", "ruler on the film"),
    ("workstation", "reporting workstation"),
    ("marked", "marked in this register"),
    ("report", "taken from the report"),
)
CALIBRATION: Final[Words] = (
    ("calibrated", "calibrated pixel spacing"),
    ("magnification", "detector spacing, magnification corrected"),
    ("known_length", "known length on the image"),
    ("none", "not calibrated: ratios only"),
)

# --- decision, plan, theatre --------------------------------------------------
ROUTE: Final[Words] = (
    ("conservative", "continued conservative care"),
    ("cement", "cement alone"),
    ("balloon", "balloon tamping and cement"),
    ("expandable", "expandable implants and cement"),
    ("fixation", "posterior fixation"),
    ("investigate", "investigate first"),
    ("urgent_spinal", "urgent spinal surgery opinion"),
)
PROCEDURE_ROUTES: Final = ("cement", "balloon", "expandable", "fixation")
SIDE: Final[Words] = (
    ("left", "left"),
    ("right", "right"),
    ("both", "left and right"),
    ("midline", "midline"),
)
APPROACH: Final[Words] = (
    ("transpedicular", "through the pedicle"),
    ("extrapedicular", "beside the pedicle"),
)
ANAESTHESIA: Final[Words] = (
    ("local", "local anaesthesia"),
    ("sedation", "local anaesthesia and sedation"),
    ("general", "general anaesthesia"),
)
VISCOSITY: Final[Words] = (("low", "low"), ("medium", "medium"), ("high", "high"))
LEVEL_CHECK: Final[Words] = (
    ("counted_sacrum", "counted up from the sacrum"),
    ("counted_rib", "counted from the last rib"),
    ("counted_c2", "counted down from C2"),
    ("marked", "marked before the procedure"),
)
LIST_STATE: Final[Words] = (
    ("planned", "planned"),
    ("done", "done"),
    ("cancelled", "cancelled"),
)
PLAN_STATE: Final[Words] = (("draft", "draft"), ("approved", "approved"))

STOCK_KIND: Final[Words] = (
    ("implant", "implant"),
    ("cement", "cement"),
    ("balloon", "balloon set"),
    ("needle", "needle"),
    ("screw", "screw or rod"),
    ("other", "other"),
)
COMPLICATION_CHECK: Final[Words] = (
    ("none", "asked about, none"),
    ("some", "recorded below"),
)

# --- procedure --------------------------------------------------------------
LEAK_ROUTE: Final[Words] = (
    ("basivertebral", "basivertebral vein"),
    ("segmental", "segmental vein"),
    ("cortical", "cortical defect"),
    ("disc", "disc"),
)
LEAK_PLACE: Final[Words] = (
    ("epidural", "epidural"),
    ("foraminal", "foraminal"),
    ("paraspinal", "paraspinal"),
    ("anterior", "anterior"),
    ("upper_disc", "disc above"),
    ("lower_disc", "disc below"),
    ("needle_track", "needle track"),
    ("lung", "lung"),
)
LEAK_SEEN_ON: Final[Words] = (
    ("fluoroscopy", "fluoroscopy"),
    ("film", "film"),
    ("ct", "CT"),
)
LEAK_CONSEQUENCE: Final[Words] = (
    ("none", "none"),
    ("symptoms", "symptoms, settled"),
    ("treated", "needed treatment"),
    ("operated", "needed an operation"),
)
LEAK_CHECKED: Final[Words] = (
    ("no_leak", "looked for, none seen"),
    ("leak", "leak seen"),
)
COMPLICATION: Final[Words] = (
    ("neurology_new", "new neurological deficit"),
    ("embolism", "cement embolism"),
    ("cement_reaction", "cement reaction"),
    ("infection", "infection"),
    ("bleeding", "bleeding or haematoma"),
    ("fracture", "fracture of rib or pedicle"),
    ("wrong_level", "wrong level"),
    ("anaesthetic", "anaesthetic complication"),
    ("implant", "implant displaced or misplaced"),
    ("medical", "medical complication"),
    ("death", "death"),
    ("other", "another, described"),
)
# Clavien–Dindo grades as printed in PMC10958949 Table 3 (published and read).
COMPLICATION_GRADE: Final[Words] = tuple(
    (grade, grade) for grade in ("I", "II", "IIIa", "IIIb", "IVa", "IVb", "V")
)
IMPLANT_FATE: Final[Words] = (
    ("implanted", "implanted"),
    ("opened", "opened, not used"),
    ("wasted", "wasted"),
    ("returned", "returned"),
)
CASE_STATE: Final[Words] = (("open", "being recorded"), ("signed", "signed"))

# --- follow-up --------------------------------------------------------------
CONTACT_MODE: Final[Words] = (
    ("clinic", "clinic"),
    ("telephone", "telephone"),
    ("post", "post"),
    ("care_home", "care home"),
)
INFORMANT: Final[Words] = (
    ("patient", "the patient"),
    ("relative", "a relative"),
    ("carer", "a carer"),
)
REVIEW_END: Final[Words] = (
    ("dead", "died"),
    ("withdrawn", "withdrew"),
    ("moved", "moved away"),
    ("unable", "unable to answer"),
    ("lost", "lost to follow-up"),
)
INSTRUMENT: Final[Words] = (
    ("pain_now", "pain now, 0 to 10"),
    ("pain_worst", "worst pain in the last week, 0 to 10"),
    ("pain_moving", "pain on movement, 0 to 10"),
    ("disability_24", "24-item disability total, 0 to 24"),
    ("disability_percent", "ten-section disability index, 0 to 100 %"),
    ("analgesic_step", "analgesic step, 0 to 3"),
    ("mobility", "mobility, 0 in bed to 4 walks without aid"),
    ("new_pain", "new back pain since the last contact, 0 no 1 yes"),
    ("falls", "falls since the last contact, number"),
    ("bone_drug", "takes a bone-protecting drug, 0 no 1 yes"),
)
# Signs that need somebody at once (common practice; the instruction is the department's own).
RED_FLAG: Final[Words] = (
    ("leg_weakness", "new leg weakness"),
    ("bladder_bowel", "change of bladder or bowel"),
    ("fever", "fever"),
    ("sudden_pain", "sudden new pain"),
    ("none", "asked, none of these"),
)
ATTEMPT_OUTCOME: Final[Words] = (
    ("reached", "reached"),
    ("no_answer", "no answer"),
    ("message", "message left"),
    ("wrong_number", "wrong number"),
    ("call_back", "asked to be called back"),
    ("declined", "declined"),
)
TASK_KIND: Final[Words] = (
    ("test", "test to arrange"),
    ("result", "result to see"),
    ("specimen", "specimen to see"),
    ("opinion", "opinion to obtain"),
    ("letter", "letter to write"),
    ("other", "other"),
)


def words_for(vocabulary: Words, code: str) -> str:
    """Return the words of a code; "not recorded" for a blank one. Raises KeyError when unknown."""
    return dict(vocabulary)[code] if code else "not recorded"


def codes(vocabulary: Words) -> list[str]:
    """Return the codes of a vocabulary, in order."""
    return [code for code, _ in vocabulary]
