"""Spellings of numbers, dates and NHS Numbers as people type, paste and send them."""

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
    # ranges, bounds, doubts, and two numbers in one box
    "6-7", "6 - 7", "6–7", "<5", "< 5", ">=5", "≤5", "ca. 7", "7?", "7 (8)", "7\n8", "7\t8",
    "1.1E+11", "1,1E+11", "12 345,6", "1/2",
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

# Dates as they stand in files, and the day that is meant; the same in every declared order.
FILE_DATES: Final = dict.fromkeys(
    (
        "2027-03-07", "2027-3-7", "2027-03-07T00:00:00", "2027-03-07 00:00:00",
        "2027-03-07 00:00:00.000", "2027-03-07T00:00:00Z", "07 Mar 2027", "7 Mar 2027",
        "7 mar 2027", "7 MAR 2027", "7 March 2027", "7-Mar-2027", "07-MAR-2027", "07Mar2027",
        "7.Mar.2027", "7. March 2027", "Mar 7, 2027", "March 7 2027", "MAR 7, 2027", "Mar. 7, 2027",
    ),
    date(2027, 3, 7),
) | {"1 Sept 2026": date(2026, 9, 1), "29 Feb 2028": date(2028, 2, 29)}  # fmt: skip
# In figures: the day by the declared order; an order that is not named refuses it.
FILE_FIGURES: Final = {
    "07/03/2027": {"dmy": date(2027, 3, 7), "mdy": date(2027, 7, 3)},
    "7/3/2027": {"dmy": date(2027, 3, 7), "mdy": date(2027, 7, 3)},
    "7.3.2027": {"dmy": date(2027, 3, 7), "mdy": date(2027, 7, 3)},
    "7-3-2027": {"dmy": date(2027, 3, 7), "mdy": date(2027, 7, 3)},
    "7 3 2027": {"dmy": date(2027, 3, 7), "mdy": date(2027, 7, 3)},
    "12/11/2010": {"dmy": date(2010, 11, 12), "mdy": date(2010, 12, 11)},
    "25/12/2026": {"dmy": date(2026, 12, 25)},
    "12/25/2026": {"mdy": date(2026, 12, 25)},
    "2027/03/07": {"ymd": date(2027, 3, 7)},
    "2027.3.7": {"ymd": date(2027, 3, 7)},
}
# Known no finer than to the month or the year: taken where a date may be uncertain.
FILE_PARTS: Final = {
    "Mar 2027": (date(2027, 3, 1), "month"),
    "March 2027": (date(2027, 3, 1), "month"),
    "03/2027": (date(2027, 3, 1), "month"),
    "3.2027": (date(2027, 3, 1), "month"),
    "2027": (date(2027, 1, 1), "year"),
}
FILE_REFUSED: Final = (
    # two-figure years, day numbers of a spreadsheet, figures without separators
    "7/3/27", "07/03/27", "7 Mar 27", "Mar 7, 27", "46085", "42725.0", "20270307", "070327",
    # days that there are not
    "31/04/2027", "29 Feb 2027", "29/02/2027", "2027-02-30", "2027-13-01", "0/3/2027",
    "32 Mar 2027", "7/0/2027", "31/31/2027",
    # words that are no month, times of day, years that nobody means
    "7 Mrz 2027", "7 Ju 2027", "7 Ma 2027", "2027-03-07 14:05", "2027-03-06T23:00:00Z",
    "01 Jan 1066", "1879-12-31", "7 Mar 20270",
    # mixed separators, ordinals, words, figures of other scripts
    "7/3-2027", "7,3,2027", "7th March 2027", "yesterday", "about 2026", "7/3", "Mar", "-7/3/2027",
    "٠٧/٠٣/٢٠٢٧", "７/３/2027",
)  # fmt: skip

NHS_NUMBER: Final = "9990000018"
# Fifty pastes: what letters, labels, web pages and spreadsheets make of one number.
NHS_PASTED: Final = (
    "9990000018", "999 000 0018", "999-000-0018", " 999 000 0018 ", "999 0000018", "9990 000018",
    "99 90 00 00 18", "999\u00a0000\u00a00018", "999 - 000 - 0018", "9 9 9 0 0 0 0 0 1 8",
    "999\u2011000\u20110018", "999\u2013000\u20130018", "\t9990000018\n", "999  000  0018",
    "999\u2009000\u20090018", "999\u202f000\u202f0018", "999\u2014000\u20140018",
    "999\u2010000\u20100018", "999\t000\t0018", "999 000-0018", "\r\n999 000 0018\r\n",
    "999\n000\n0018", "99900 00018", "9990-000-018",
)  # fmt: skip
NHS_REFUSED: Final = {
    "999000001": "has ten digits, this has 9",
    "99900000188": "has ten digits, this has 11",
    "1": "has ten digits, this has 1",
    "000": "has ten digits, this has 3",
    "999 000 001": "has ten digits, this has 9",
    "999 000 0018 999 000 0018": "has ten digits, this has 20",
    "9990000019": "a digit is mistyped",
    "9990000081": "a digit is mistyped",
    "9999999999": "a digit is mistyped",
    "0000000000": "a digit is mistyped",
    "1111111111": "a digit is mistyped",
    "9990000108": "a digit is mistyped",
    "999O000018": "type the ten digits",
    "ABC/123456": "type the ten digits",
    "999.000.0018": "type the ten digits",
    "999_000_0018": "type the ten digits",
    "٩٩٩٠٠٠٠٠١٨": "type the ten digits",
    "９９９００００018": "type the ten digits",
    "9990000018x": "type the ten digits",
    "+9990000018": "type the ten digits",
    "NHS 9990000018": "type the ten digits",
    "(999) 000 0018": "type the ten digits",
    "9.99E+09": "type the ten digits",
    "9990000018.0": "type the ten digits",
    "=9990000018": "type the ten digits",
    "999,000,0018": "type the ten digits",
}
