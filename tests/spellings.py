"""Spellings of numbers and dates as people type and paste them."""

from datetime import date
from typing import Final

NUMBERS: Final = (
    # plain whole numbers
    "0", "1", "2", "3", "4", "5", "6", "7", "8", "9", "10", "11", "12", "17", "25", "45", "60",
    "99", "100", "120", "180", "250", "999", "1000", "10000", "99999", "123456",
    # plain decimals
    "0.0", "0.1", "0.5", "0.05", "0.123", "1.0", "1.5", "2.5", "7.0", "7.5", "12.0", "12.25",
    "36.6", "59.9", "99.99", "7.00", "7.10", "1000.5",
    # signs
    "-0", "-0.0", "-1", "-2.5", "-10", "-90.5", "−1", "–1", "—1", "- 1", "--7", "7-",
    # a 0 in front
    "05", "007", "00.5", "0007.5", "00", "-05",
    # commas
    "7,5", "12,0", "1,000", "1,000.5", "1.000,5", ",5", "7,", "1,2,3", "7;5",
    # separators and blanks inside
    "1_000", "1_0", "_7", "7_", "1'000", "1 000", "1\xa0000", "1\u202f000", "1 .5", "7 .",
    "1\u2009000", "7 5",
    # figures of other scripts, fractions, powers
    "١٢", "٧", "７.5", "７", "७", "७.५", "๗", "๗๘", "৭", "1٢", "1٬000", "7٫5", "𝟕", "𝟟.𝟝", "7²",
    "²", "⑦", "Ⅶ", "½", "7½", "七", "十",
    # what a programming language would read
    "1e3", "1E3", "1.5e1", "1e-1", "1e400", "7e", "e7", "1e", "0x10", "0b11", "0o17", "0x",
    "NaN", "nan", "sNaN", "inf", "-inf", "Infinity", "7L", "7d", "7f", "7j", "1+0j", "True",
    "None",
    # units and currencies
    "7 mm", "7mm", "7 cm", "7kg", "7 %", "7%", "7°", "7 mL", "7ml", "7 s", "7min", "7 of 10",
    "£7", "$7", "#7", "No. 7", "T7", "L1",
    # words and look-alikes
    "seven", "ten", "nil", "none", "n/a", "unknown", "?", "x", "O.5", "l2", "I0", "O",
    # signs around and between
    "+7", "<7", ">7", "~7", "≈7", "=7", "=1+1", "(7)", "[7]", "7-8", "7–8", "7/10", "7 to 8",
    "7±1", "7*2", "7^2", "1+1", "7:5", "7!", "'7", "\"7\"", "7'5",
    # points
    ".5", "7.", "7..5", "1.2.3", ".", "..5", "5,.5", "-.5", "·5", "7·5",
    # blanks and invisible characters around
    " 7 ", "\t7.5\r\n", "  0 ", "7\u200b", "\ufeff7", "\u20077", "7\x00", "7\xad", "\u2028",
    # too long or too precise
    "7.123456789", "3.14159265358979", "0.30000000000000004", "1" * 16, "9" * 40,
    "0.0000000000000001",
)  # fmt: skip

# Day, month, year as typed, and the day that is meant.
DATES_READ: Final = {
    ("7", "3", "2027"): date(2027, 3, 7),
    ("07", "03", "2027"): date(2027, 3, 7),
    (" 7 ", "\t3", "2027\n"): date(2027, 3, 7),
    ("7", "Mar", "2027"): date(2027, 3, 7),
    ("7", "mar", "2027"): date(2027, 3, 7),
    ("7", "MAR", "2027"): date(2027, 3, 7),
    ("7", "Mar.", "2027"): date(2027, 3, 7),
    ("7", "march", "2027"): date(2027, 3, 7),
    ("1", "Sept", "2026"): date(2026, 9, 1),
    ("1", "Sep", "2026"): date(2026, 9, 1),
    ("1", "septem", "2026"): date(2026, 9, 1),
    ("2", "1", "2024"): date(2024, 1, 2),
    ("12", "11", "2010"): date(2010, 11, 12),
    ("29", "2", "2028"): date(2028, 2, 29),
    ("31", "dec", "1999"): date(1999, 12, 31),
    ("1", "jun", "2026"): date(2026, 6, 1),
    ("1", "jul", "2026"): date(2026, 7, 1),
    ("14", "5", "1942"): date(1942, 5, 14),
}
# What no date field takes: the box that the message is about, and words of it.
DATES_REFUSED: Final = {
    # the year
    ("7", "3", "27"): ("year", "four figures"),
    ("7", "3", "'27"): ("year", "four figures"),
    ("7", "3", "20270"): ("year", "four figures"),
    ("7", "3", "202"): ("year", "four figures"),
    ("7", "3", "2O27"): ("year", "four figures"),
    ("7", "3", "２０２７"): ("year", "four figures"),
    ("7", "3", "٢٠٢٧"): ("year", "four figures"),
    ("7", "3", "-2027"): ("year", "four figures"),
    ("7", "3", ""): ("year", "enter the year"),
    ("7", "3", "0027"): ("year", "1880 or later"),
    ("7", "3", "1879"): ("year", "1880 or later"),
    # the month
    ("7", "13", "2027"): ("month", "1 to 12"),
    ("7", "0", "2027"): ("month", "1 to 12"),
    ("7", "00", "2027"): ("month", "1 to 12"),
    ("7", "003", "2027"): ("month", "1 to 12"),
    ("7", "ma", "2027"): ("month", "a word such as Mar"),
    ("7", "ju", "2027"): ("month", "a word such as Mar"),
    ("7", "m", "2027"): ("month", "a word such as Mar"),
    ("7", "mrz", "2027"): ("month", "a word such as Mar"),
    ("7", "marz", "2027"): ("month", "a word such as Mar"),
    ("7", "٣", "2027"): ("month", "a word such as Mar"),
    ("7", "3.", "2027"): ("month", "a word such as Mar"),
    ("7", "-3", "2027"): ("month", "a word such as Mar"),
    ("7", "", "2027"): ("month", "enter the month"),
    # the day
    ("", "3", "2027"): ("day", "enter the day"),
    ("0", "3", "2027"): ("day", "no day 0 in Mar 2027"),
    ("32", "3", "2027"): ("day", "no day 32 in Mar 2027"),
    ("31", "4", "2027"): ("day", "no day 31 in Apr 2027"),
    ("29", "2", "2027"): ("day", "no day 29 in Feb 2027"),
    ("30", "feb", "2028"): ("day", "no day 30 in Feb 2028"),
    ("7th", "3", "2027"): ("day", "a number from 1 to 31"),
    ("7.", "3", "2027"): ("day", "a number from 1 to 31"),
    ("+7", "3", "2027"): ("day", "a number from 1 to 31"),
    ("７", "3", "2027"): ("day", "a number from 1 to 31"),
    ("1e1", "3", "2027"): ("day", "a number from 1 to 31"),
    ("7 8", "3", "2027"): ("day", "a number from 1 to 31"),
    # a whole date in one box is put back, never guessed at
    ("2/1/24", "", ""): ("day", "their own boxes"),
    ("02/01/2024", "", ""): ("day", "their own boxes"),
    ("2024-01-02", "", ""): ("day", "their own boxes"),
    ("7 Mar 2027", "", ""): ("day", "their own boxes"),
    ("20270307", "", ""): ("day", "their own boxes"),
    ("", "", "2027"): ("month", "enter the month"),
}
