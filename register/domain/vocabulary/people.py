"""People: sex, telephones, roles."""

from typing import Final

from register.domain.vocabulary.base import Words

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
# What a file that is sent in holds, one row for each.
FILE_KIND: Final[Words] = (
    ("referrals", "referrals"),
    ("scores", "follow-up scores"),
    ("theatre_log", "theatre log"),
    ("procedures", "earlier procedures"),
)
# How records came to stand under another patient.
TRANSFER_KIND: Final[Words] = (
    ("merge", "two records of one person made one"),
    ("move", "a record moved that was entered for the wrong patient"),
)
