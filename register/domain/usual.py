"""What is usual: the ranges outside which a form asks once whether a number is right.

Possible ranges are constraints of the tables; where a column has none, POSSIBLE
holds what its form refuses. All usual ranges are common practice without a
source; they only make a page ask, and refuse nothing. Units are those of the
column's name. None leaves a side open.
"""

from collections.abc import Mapping
from decimal import Decimal
from typing import Final

Bound = Decimal | int | None
Range = tuple[Bound, Bound]
Column = tuple[str, str]  # model, field

# An upper lumbar body of a tall man is about 30 mm high, a flat one may have lost all but 5.
_HEIGHT: Final[Range] = (5, 40)

USUAL: Final[Mapping[Column, Range]] = {
    # Common practice, no source, like every range of this table.
    ("Referral", "weight_kg"): (35, 130),
    ("Referral", "height_cm"): (135, 195),
    ("Referral", "analgesia_days"): (None, 365),
    ("BoneDensity", "t_score"): (-6, 4),
    ("BoneDensity", "attenuation_hu"): (-50, 400),
    ("Study", "rib_bearing_bodies"): (11, 13),
    ("Reading", "retropulsion_mm"): (None, 10),
    ("Reading", "canal_percent"): (None, 60),
    ("Reading", "pedicle_width_left_mm"): (3, 22),
    ("Reading", "pedicle_width_right_mm"): (3, 22),
    ("Reading", "shift_ratio"): (Decimal("0.2"), 2),
    ("Reading", "diffusion"): (Decimal("0.2"), 3),
    **{
        ("Measurement", f"{side}_height_mm"): _HEIGHT
        for side in ("anterior", "middle", "posterior", "left", "right")
    },
    ("Measurement", "depth_mm"): (15, 45),
    ("Measurement", "width_mm"): (20, 60),
    ("Measurement", "vertebral_angle_deg"): (-10, 40),
    ("Measurement", "local_angle_deg"): (-30, 60),
    ("Measurement", "segmental_angle_deg"): (-30, 60),
    ("Measurement", "regional_angle_deg"): (-60, 80),
    ("Measurement", "tilt_angle_deg"): (-45, 60),
    ("Procedure", "dose_area_gy_cm2"): (Decimal("0.1"), 150),
    ("Procedure", "fluoroscopy_s"): (5, 1200),
    ("Procedure", "room_temperature_c"): (16, 26),
    ("Procedure", "lowest_spo2_percent"): (85, None),
    ("Procedure", "systolic_fall_percent"): (None, 40),
    ("ImplantUse", "expansion_mm"): (1, 20),
    ("CementUse", "volume_ml"): (Decimal("0.5"), 6),
    ("CementUse", "working_minutes"): (2, 25),
    ("ProcedurePlan", "expected_minutes"): (15, 240),
    ("PlannedLevel", "cement_ml"): (1, 8),
    ("PlannedApproach", "medial_angle_deg"): (-5, 35),
    ("PlannedApproach", "cranial_angle_deg"): (-25, 25),
    ("PlannedApproach", "depth_mm"): (25, 80),
    ("PlannedApproach", "pedicle_width_mm"): (3, 22),
    ("PlannedApproach", "device_mm"): (Decimal("1.5"), 8),
    ("PlannedApproach", "entry_lateral_mm"): (5, 45),
    ("PlannedApproach", "entry_behind_mm"): (0, 50),
    ("PlannedApproach", "entry_above_mm"): (-15, 20),
    ("PlannedApproach", "wall_lateral_mm"): (6, 22),
    ("PlannedApproach", "wall_behind_mm"): (-2, 25),
    ("TheatreSession", "minutes"): (60, 600),
    ("ListEntry", "minutes"): (15, 240),
    ("Technique", "typical_minutes"): (10, 240),
    ("Technique", "minutes_per_further_level"): (5, 120),
    ("Technique", "supervised_cases"): (None, 50),
    ("Technique", "review_after_cases"): (None, 200),
    ("StockItem", "quantity"): (None, 200),
    ("StockItem", "reorder_at"): (None, 100),
    ("StockItem", "diameter_mm"): (Decimal("1.5"), 12),
    ("StockItem", "length_mm"): (5, 150),
    ("StockItem", "needs_isthmus_mm"): (3, 15),
    ("StockItem", "needs_height_mm"): (3, 30),
    ("StockItem", "needs_depth_mm"): (15, 45),
    ("StockItem", "most_depth_mm"): (15, 45),
}

# Ranged columns that never ask, and why.
NEVER_ASKED: Final[Mapping[Column, str]] = {
    ("Referral", "pain_rest"): "every answer from 0 to 10 is usual in this department",
    ("Referral", "pain_moving"): "every answer from 0 to 10 is usual in this department",
    ("Referral", "frailty_index_5"): "six answers, each of them usual",
    ("PlannedLevel", "implant_count"): "five answers, each of them usual",
    ("TheatreSession", "image_intensifiers"): "five answers, each of them usual",
    ("TheatreSession", "beds"): "a count that no clinical answer depends on",
}

# Columns whose table has no range of its own; common sense, no source.
POSSIBLE: Final[Mapping[Column, tuple[int, int]]] = {
    ("TheatreSession", "image_intensifiers"): (0, 4),
    ("TheatreSession", "beds"): (0, 40),
    ("Technique", "typical_minutes"): (5, 600),
    ("Technique", "minutes_per_further_level"): (0, 600),
    ("Technique", "supervised_cases"): (0, 1000),
    ("Technique", "review_after_cases"): (0, 1000),
    ("StockItem", "quantity"): (0, 9999),
    ("StockItem", "reorder_at"): (0, 9999),
}

# Blood tests in the unit of LAB_UNIT: possible lowest and highest, then usual lowest and highest.
# Common practice, no source.
BLOOD: Final[Mapping[str, tuple[Decimal, Decimal, Decimal, Decimal]]] = {
    test: (Decimal(low), Decimal(high), Decimal(least), Decimal(most))
    for test, low, high, least, most in (
        ("inr", "0.5", "20", "0.8", "5"),
        ("platelets", "0", "2000", "50", "600"),
        ("haemoglobin", "20", "250", "70", "180"),
        ("crp", "0", "600", "0", "300"),
        ("esr", "0", "200", "0", "120"),
        ("white_cells", "0", "500", "2", "20"),
        ("creatinine", "10", "2500", "30", "400"),
        ("creatinine_clearance", "0", "250", "10", "140"),
        ("calcium", "1", "5", "1.9", "2.9"),
        ("vitamin_d", "0", "500", "10", "250"),
        ("fibrinogen", "0", "20", "1", "8"),
    )
}
