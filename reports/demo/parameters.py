"""What the invented hospital is made of, number by number, each with where it comes from.

`PUBLISHED` means the figure was read in the named source; `ADAPTED` that one was
read there and then moved, split or smoothed; `SECOND_HAND` that it was seen as a
summary or quoted from memory; `INVENTED` that it was chosen for the demo. A
published figure makes the demo believable, not true: nothing that the demo's
audit prints is evidence.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Generic, TypeVar

PUBLISHED: Final = "published"
ADAPTED: Final = "adapted"
SECOND_HAND: Final = "second-hand"
INVENTED: Final = "invented"

Value = TypeVar("Value")
Weights = Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Given(Generic[Value]):
    """One parameter: its value, how far it can be trusted, and where it was read."""

    value: Value
    status: str
    source: str


# Chosen among the first ninety because every kind of case, technique and leak occurs.
SEED: Final = 41
PAST_PATIENTS: Final = Given(150, INVENTED, "with 24 waiting and 6 listed: 180 patients")
MONTHS: Final = Given(30, INVENTED, "ten quarters")

# --- who ------------------------------------------------------------------------------------
AGE: Final = Given(
    (77.0, 9.0, 56, 97),
    ADAPTED,
    "mean, SD, lowest, highest; means of six trials and series run from 73.3 to 80.5, SD 7 to 12",
)
WOMEN: Final = Given(0.75, ADAPTED, "68 to 79 % in five trials and series (FREE 77 %)")
ASA: Final[Given[Weights]] = Given(
    {"1": 1, "2": 22, "3": 53, "4": 24}, ADAPTED, "mean 3.02 (PMC3395994); the split is invented"
)
INPATIENT: Final = Given(0.55, ADAPTED, "57 to 59 % (VAPOUR)")
CAUSE: Final[Given[Weights]] = Given(
    {"osteoporotic": 88, "tumour": 5, "trauma": 5, "infection": 2},
    INVENTED,
    "a few of each other kind",
)
CARE_HOME: Final = Given(0.09, INVENTED, "")

# --- the fracture -----------------------------------------------------------------------------
LEVEL: Final[Given[Weights]] = Given(
    {
        "T5": 1, "T6": 3, "T7": 5, "T8": 6, "T9": 5, "T10": 4, "T11": 8,
        "T12": 20, "L1": 24, "L2": 11, "L3": 7, "L4": 5, "L5": 1,
    },
    INVENTED,
    "L1, T12 and L2 are the most frequent in 1,530 fractures (JOSR 2023); no numbers are printed",
)  # fmt: skip
LEVELS_AT_ONCE: Final[Given[Weights]] = Given(
    {"1": 86, "2": 12, "3": 2},
    INVENTED,
    "rarer than the 24 to 26 % of FREE, to reach 220 fractures in 180 patients",
)
DAYS_TO_REFERRAL: Final = Given(
    (17.0, 0.55),
    INVENTED,
    "median and log SD; VAPOUR treated at 3 ± 2 weeks, Buchbinder 11.7 ± 11.1",
)
PRECISION: Final[Given[Weights]] = Given(
    {"day": 62, "week": 24, "month": 11, "": 3}, INVENTED, "'' is an onset nobody knows"
)
MECHANISM: Final[Given[Weights]] = Given(
    {"low": 53, "none": 45, "high": 2}, ADAPTED, "a fall is the cause in about 45 % (PMC3859637)"
)
PAIN_BEFORE: Final = Given(
    (8.1, 1.1), ADAPTED, "mean, SD of those operated; 7.1 (VERTOS 2007) to 8.7 (PMC7975168)"
)
PAIN_BEFORE_CONSERVATIVE: Final = Given((6.6, 1.6), INVENTED, "milder: the others are operated")
ANALGESIC: Final[Given[Weights]] = Given(
    {"0": 4, "1": 31, "2": 36, "3": 29},
    ADAPTED,
    "none 9, simple 59, opioid 32 % (PMC7977842); moved up, since milder cases are not referred",
)
MOBILITY: Final[Given[Weights]] = Given(
    {"independent": 14, "aid": 44, "help": 23, "chair": 12, "bed": 7}, INVENTED, ""
)
NEUROLOGY: Final[Given[Weights]] = Given({"N0": 96, "N1": 3, "NX": 1}, INVENTED, "mostly intact")
LOSS: Final = Given(
    (0.38, 0.14, 0.08, 0.75),
    ADAPTED,
    "share of height, mean, SD, range; 45 % (15 to 72) in VERTOS (PMC7977842), 46 % in VAPOUR",
)
WEDGE: Final = Given(0.78, PUBLISHED, "the others are biconcave (PMC7977842)")
CLEFT: Final = Given(0.13, INVENTED, "share with a cleft in the body")
OLD_FRACTURE: Final = Given(
    0.40, ADAPTED, "share with an older, healed fracture; 46 % (VAPOUR placebo arm)"
)
HEIGHT_NOISE_MM: Final = Given(0.6, PUBLISHED, "precision of heights, 111 women")

# --- antithrombotic drugs, blood, bone ----------------------------------------------------------
ANTITHROMBOTIC: Final = Given(0.38, INVENTED, "share that takes one or more")
DRUG: Final[Given[Weights]] = Given(
    {
        "aspirin": 30, "apixaban": 29, "clopidogrel": 14, "rivaroxaban": 8, "edoxaban": 6,
        "warfarin": 6, "lmwh_prophylactic": 5, "dabigatran": 2,
    },
    INVENTED,
    "",
)  # fmt: skip
T_SCORE: Final = Given((-2.9, 0.8), INVENTED, "lumbar spine; low by definition of the disease")
ATTENUATION_HU: Final = Given((82.0, 24.0), INVENTED, "L1 on CT")

# --- what was done ------------------------------------------------------------------------------
DESTINY: Final[Given[Weights]] = Given(
    {"procedure": 66, "conservative": 26, "urgent_spinal": 3, "closed": 5},
    INVENTED,
    "half or more improve without a procedure (Lancet 2010: 229 of 431), most before referral",
)
NEW_TECHNIQUE_MONTHS: Final = Given(16, INVENTED, "expandable implants are approved here since")
TECHNIQUE_BEFORE: Final[Given[Weights]] = Given(
    {"cement": 45, "balloon": 51, "fixation": 4}, INVENTED, ""
)
TECHNIQUE_SINCE: Final[Given[Weights]] = Given(
    {"cement": 33, "balloon": 34, "expandable": 30, "fixation": 3}, INVENTED, ""
)
MINUTES_FIRST: Final = Given(
    (44.0, 9.0, 25, 75), ADAPTED, "one level 47.2 ± 13.5, 20 to 75 (BMC MSD 2013;14:38); moved"
)
MINUTES_FURTHER: Final = Given((12, 18), INVENTED, "no table by number of levels was found")
DOSE_AREA: Final = Given(
    (7.0, 0.6), INVENTED, "Gy·cm² per level, median and log SD; below 70, a national reference"
)
FLUOROSCOPY_MIN: Final = Given(
    {"cement": (4.9, 1.9), "balloon": (6.1, 2.0), "expandable": (6.4, 2.0), "fixation": (8.0, 2.5)},
    ADAPTED,
    "means of a 27-study meta-analysis for the first two; spread and the others invented",
)
CEMENT_ML: Final = Given(
    {"thoracic": (1.5, 0.4), "thoracolumbar": (2.2, 0.5), "lumbar": (2.7, 0.6)},
    ADAPTED,
    "per side; FREE 2.4 mL per side, Buchbinder 2.8 ± 1.2 per level; split by region invented",
)
VISCOSITY: Final[Given[Weights]] = Given({"high": 62, "medium": 30, "low": 8}, INVENTED, "")
LEAK_LOOKED_ON: Final[Given[Weights]] = Given(
    {"fluoroscopy": 34, "film": 30, "ct": 29, "": 7}, INVENTED, "'' is not recorded"
)
LEAK_RATE: Final = Given(
    {
        "cement": {"fluoroscopy": 0.28, "film": 0.33, "ct": 0.62},
        "balloon": {"fluoroscopy": 0.15, "film": 0.18, "ct": 0.36},
        "expandable": {"fluoroscopy": 0.14, "film": 0.18, "ct": 0.34},
        "fixation": {"fluoroscopy": 0.15, "film": 0.20, "ct": 0.36},
    },
    ADAPTED,
    "film 33 % of 660 levels, pooled 54.7 % cement and 18.4 % balloon (Zhan 2017); CT about 72 % "
    "is from memory; implants 3 to 55 % (IPG568)",
)
LEAK_ROUTE: Final[Given[Weights]] = Given(
    {"segmental": 34, "cortical": 24, "basivertebral": 20, "disc": 22},
    ADAPTED,
    "S 34.3, C 24.4, B 28.5 % of 344 levels (JOSR 2021); the disc is counted apart there",
)
LEAK_CLEFT_ODDS: Final = Given(1.40, PUBLISHED, "1.09 to 1.78 (Zhan, World Neurosurg 2017)")
COMPLICATION: Final = Given(0.06, INVENTED, "share of procedures; older reviews say 1 to 3 %")

# --- how it went --------------------------------------------------------------------------------
RESPONDER: Final = Given(0.86, INVENTED, "share that keeps its early fall of pain")
PAIN_AFTER: Final = Given(
    {"weeks_2_4": (3.4, 2.0), "months_3": (2.9, 2.0), "months_12": (2.6, 2.0)},
    ADAPTED,
    "a fall of 5.1 ± 1.8 that is kept (PMC6147886), 8.7 to 2.8 (PMC7975168)",
)
PAIN_AFTER_NOT: Final = Given((6.3, 1.4), INVENTED, "those who do not respond")
RESOLVER: Final = Given(
    0.62, PUBLISHED, "conservative care, pain of 3 or less at some time: 57 of 95 (PMC7966424)"
)
PAIN_CONSERVATIVE: Final = Given(
    {"weeks_2_4": (5.0, 1.9), "months_3": (3.2, 1.9), "months_12": (2.5, 1.8)},
    INVENTED,
    "for those who settle; most do by three months (PMC7966424)",
)
PAIN_CONSERVATIVE_NOT: Final = Given((5.9, 1.4), INVENTED, "for those who do not")
CORRELATION: Final = Given(0.55, INVENTED, "of successive scores; advised 0.5 to 0.6")
DISABILITY_BEFORE: Final = Given((18.0, 3.2), ADAPTED, "of 24; 15.7 to 19.8 (VERTOS, VAPOUR)")
DISABILITY_PER_PAIN: Final = Given(1.75, INVENTED, "points of 24 for one point of pain")
SEEN: Final[Given[Weights]] = Given(
    {"before": 0.95, "weeks_2_4": 0.91, "months_3": 0.85, "months_12": 0.76},
    ADAPTED,
    "FREE 84.8 to 92.6 % at one month, VERTOS II 76 to 85 % at twelve; lower, as outside a trial",
)
WELL_STAYS_AWAY: Final = Given(
    0.26, INVENTED, "fall of the log odds of being seen for each point of pain below 4"
)
ONCE_LOST: Final = Given(1.1, INVENTED, "fall of the log odds after a contact was missed")
SCORE_MISSING: Final[Given[Weights]] = Given(
    {
        "pain_now": 0.02, "pain_worst": 0.06, "pain_moving": 0.05, "disability_24": 0.12,
        "analgesic_step": 0.05, "mobility": 0.04, "new_pain": 0.05, "falls": 0.06,
        "bone_drug": 0.07,
    },
    INVENTED,
    "",
)  # fmt: skip
DEATH_PER_YEAR: Final = Given(
    {"first": 0.11, "later": 0.08},
    ADAPTED,
    "five-year survival 61 % after fracture, highest hazard in the first year; split invented",
)
DEATH_PER_YEAR_OF_AGE: Final = Given(0.07, INVENTED, "rise of the log hazard above age 78")
ENDS: Final[Given[Weights]] = Given(
    {"withdrawn": 0.02, "moved": 0.015, "unable": 0.02}, INVENTED, "share of patients"
)
NEW_FRACTURE: Final = Given(
    0.17, ADAPTED, "in the first year; 12.8 to 24.7 % in six series, 22.4 % in Acad Radiol 2009"
)
NEW_FRACTURE_EARLY: Final = Given(
    0.75, PUBLISHED, "share of them in the first three months: 15 of 20 (Acad Radiol 2009)"
)
NEW_FRACTURE_NEXT: Final = Given(
    0.62, SECOND_HAND, "share one level away; hazard ratio 3.99 in one cohort, none in a trial"
)
GAIN_MM: Final = Given(
    {
        "cement": (0.8, 0.9, 0.4),
        "balloon": (1.5, 2.1, 0.9),
        "expandable": (1.9, 2.9, 1.0),
        "fixation": (2.2, 2.2, 0.9),
    },
    ADAPTED,
    "front, middle, back; the balloon line is PMC6147886 (SD 2.9, 2.9, 2.1); the others invented",
)
LATER_LOSS_MM: Final = Given(
    {"months_3": (0.66, 0.6), "months_12": (1.03, 0.76)},
    ADAPTED,
    "0.66 ± 0.67 and 1.03 ± 0.76 mm in two arms (JOSR s13018-021-02219-6); the times are invented",
)
SINKING: Final = Given(
    (0.10, 0.08), ADAPTED, "share of height lost later without cement; 46 to 63 % (VAPOUR)"
)


def table() -> dict[str, Given[object]]:
    """Return every parameter of this module by name, for the README and the tests."""
    return {name: given for name, given in globals().items() if isinstance(given, Given)}
