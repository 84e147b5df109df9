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
