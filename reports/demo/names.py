"""Names, addresses and numbers that belong to nobody.

Given names are ordinary; family names are put together from two syllables, like
places that do not exist. Postcodes begin with X, which no post town uses.
Telephone numbers are from the ranges that the regulator keeps for drama (01632
960000 to 960999 and 07700 900000 to 900999; published). NHS Numbers start 999,
a range that is never issued. Item numbers start 0952, after the prefix that is
kept for examples (GS1; published). The check digits of both fit.
"""

from datetime import date
from random import Random
from typing import Final

from register.domain.gs1 import SEPARATOR
from register.domain.gs1 import check_digit as gs1_check_digit
from register.domain.nhs_number import TEST_PREFIX
from register.domain.nhs_number import check_digit as nhs_check_digit


def _words(text: str) -> tuple[str, ...]:
    return tuple(text.split())


WOMEN: Final = _words(
    """
    Maud Edith Doris Joan Beryl Sheila Pauline Maureen Brenda Audrey Hilda Gwen Eileen Olive
    Shirley Jean Dorothy Marjorie Irene Winifred Rita Norma Enid Phyllis Valerie Carys Morag
    Siobhan Bronwen Ishbel Parveen Nasreen Kulwinder Harbhajan Pushpa Rukhsana Nirmala Hyacinth
    Gloria Merlene Precious Folasade Adaeze Ama Danuta Halina Zofia Mei-Ling Suk-Yin Lourdes
    Giuseppina Despina Miriam Rivka Fatima Leila Tuyet
    """
)
MEN: Final = _words(
    """
    Albert Stanley Norman Ronald Kenneth Derek Gordon Leslie Raymond Bernard Clifford Dennis
    Arthur Frank Alun Hamish Dermot Iolo Mohammed Tariq Gurdial Balbir Rajesh Winston Delroy
    Clement Babatunde Kwame Zbigniew Tadeusz Wai-Keung Carmelo Stavros Solomon Yusuf Minh
    """
)
YOUNGER: Final = _words(
    """
    Callum Jordan Aaron Liam Zain Kieran Tomasz Chidi Rhys Imran Ewan Marcus Sophie Aisha Megan
    """
)
_FIRST: Final = _words(
    """
    Ash Bram Cold Dunt Elver Fen Garth Harrow Ingle Kell Lang Marl Nether Oaken Pell Quarn
    Rusk Selk Thorn Ulver Wend Yarl Birk Crake Dray Hask Moss Stell Tarn Wick
    """
)
_LAST: Final = _words(
    """
    beck bourne combe croft dale fell garth gill holme hurst keld lade mere moor ness
    rigg shaw stead thwaite wath wold worth
    """
)
STREETS: Final = (
    "Millrace Lane", "Tenter Close", "Quarry Bank", "Lime Kiln Road", "Priory Fold", "Weir Street",
    "Sheepwash Way", "Chandler Row", "Orchard Ginnel", "Beacon Rise", "Saltern Walk", "Dyer Court",
)  # fmt: skip
PLACES: Final = ("Harrowmere", "Netherwath", "Upper Selkholme", "Tarnstead", "Coldkeld")
PRACTICES: Final = (
    ("Millrace Surgery", "2 Millrace Lane, Harrowmere XH1 1AA"),
    ("Beacon Rise Health Centre", "40 Beacon Rise, Tarnstead XH4 2BD"),
    ("Weir Street Practice", "11 Weir Street, Netherwath XH2 3DE"),
    ("Coldkeld Medical Practice", "The Green, Coldkeld XH7 5EF"),
)
CARE_HOMES: Final = ("Orchard Ginnel House", "Selkholme Lodge", "The Old Maltings, Tarnstead")
LANGUAGES: Final = {
    "Parveen": "Urdu", "Nasreen": "Urdu", "Rukhsana": "Urdu", "Kulwinder": "Punjabi",
    "Harbhajan": "Punjabi", "Pushpa": "Gujarati", "Danuta": "Polish", "Halina": "Polish",
    "Zbigniew": "Polish", "Mei-Ling": "Cantonese", "Suk-Yin": "Cantonese", "Tuyet": "Vietnamese",
    "Giuseppina": "Italian", "Despina": "Greek",
}  # fmt: skip


def family_name(number: int) -> str:
    """Return the number-th invented family name; 660 follow before one comes again."""
    place = (number * 7) % (len(_FIRST) * len(_LAST))
    first, last = _FIRST[place % len(_FIRST)], _LAST[place // len(_FIRST)]
    return f"{first}{last}"


def given_name(rng: Random, sex: str, *, young: bool = False) -> str:
    """Return an ordinary given name; the last three of the younger ones are women's."""
    if young:
        return rng.choice(YOUNGER[-3:] if sex == "female" else YOUNGER[:-3])
    return rng.choice(WOMEN if sex == "female" else MEN)


def doctor(rng: Random, number: int) -> str:
    """Return the name of a general practitioner."""
    return f"Dr {rng.choice('ABDEGHJKLMPRST')}. {family_name(number)}"


def address(rng: Random) -> tuple[str, str]:
    """Return an address in an invented place, and a postcode that cannot exist."""
    letters = "ABDEFGHJLNPQRSTUWXYZ"
    code = f"XH{rng.randint(1, 9)} {rng.randint(1, 9)}{rng.choice(letters)}{rng.choice(letters)}"
    return f"{rng.randint(1, 98)} {rng.choice(STREETS)}, {rng.choice(PLACES)}", code


def telephone(number: int, *, mobile: bool) -> str:
    """Return the number-th telephone number of a range that is kept for drama."""
    return f"07700 900{number % 1000:03d}" if mobile else f"01632 960{number % 1000:03d}"


def nhs_number(number: int) -> str:
    """Return an NHS Number of the range 999 for the number-th patient; all differ."""
    for step in range(100):
        nine = f"{TEST_PREFIX}{(number * 4219 + step * 500_009) % 1_000_000:06d}"
        digit = nhs_check_digit(nine)
        if digit is not None:
            return f"{nine}{digit}"
    raise ValueError(f"No NHS Number for {number}.")


def gtin(item: int) -> str:
    """Return a 14-digit item number under the prefix 952, with its check digit."""
    thirteen = f"09520000{item:05d}"
    return f"{thirteen}{gs1_check_digit(thirteen)}"


def scan(gtin14: str, expires_on: date, lot: str, serial: str = "") -> str:
    """Return what a reader sends for a square label: item, expiry, lot, serial."""
    tail = f"{SEPARATOR}21{serial}" if serial else ""
    return f"]d201{gtin14}17{expires_on:%y%m%d}10{lot}{tail}"
