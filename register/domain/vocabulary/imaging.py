"""Examinations, readings and measurements."""

from typing import Final

from register.domain.vocabulary.base import Words

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
IMAGE_KIND: Final[Words] = (
    ("dicom", "DICOM"),
    ("picture", "picture without scale"),
)
PLANE: Final[Words] = (
    ("lateral", "lateral film"),
    ("frontal", "frontal film"),
    ("sagittal", "sagittal"),
    ("axial", "axial"),
    ("coronal", "coronal"),
    ("other", "another view"),
)
PIXELS: Final[Words] = (
    ("uint8", "8 bits"),
    ("uint16", "16 bits"),
    ("int16", "16 bits, signed"),
    ("rgb8", "colour"),
)
MARK_VIEW: Final[Words] = (
    ("lateral", "from the side"),
    ("frontal", "from the front"),
    ("axial", "across"),
    ("needles", "from the side with its needles"),
)
