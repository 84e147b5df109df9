"""Decision, plan, theatre list and procedure."""

from typing import Final

from register.domain.vocabulary.base import Words

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
CASE_STATE: Final[Words] = (
    ("open", "being recorded"),
    ("signed", "signed"),
    ("earlier", "from a list of earlier procedures"),
)
