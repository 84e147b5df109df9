"""Techniques and stock, by generic names, with made-up item numbers."""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from random import Random
from typing import Any, Final

from reports.demo import names, parameters
from reports.demo.book import Book, Row, tenth

TECHNIQUES: Final[dict[str, dict[str, Any]]] = {
    "cement": {"name": "Cement alone", "typical_minutes": 45, "minutes_per_further_level": 15},
    "balloon": {
        "name": "Balloon tamping and cement",
        "typical_minutes": 50,
        "minutes_per_further_level": 15,
    },
    "expandable": {
        "name": "Expandable implants and cement",
        "typical_minutes": 60,
        "minutes_per_further_level": 18,
    },
    "fixation": {
        "name": "Pedicle screws with cement",
        "typical_minutes": 110,
        "minutes_per_further_level": 20,
    },
}
IMPLANT_SIZES: Final = ("4.2 mm", "5.0 mm", "5.8 mm")
# Invented: what an implant is long, closed, and what the supplier of the widest one asks for.
IMPLANT_LENGTH_MM: Final = Decimal("24.0")
SUPPLIERS_TABLE: Final = {
    "5.8 mm": {
        "needs_isthmus_mm": Decimal("7.0"),
        "needs_height_mm": Decimal("10.0"),
        "needs_depth_mm": Decimal("26.0"),
    }
}
LOTS_PER_SIZE: Final = 3


@dataclass
class Shelf:
    """What the department has: one row per technique and per lot on the shelf."""

    techniques: dict[str, Row]
    implants: dict[str, list[Row]]
    today: date
    serials: int = 0

    def implant(self, book: Book, rng: Random, treated: Row, side: str, size: str) -> Row:
        """Write one implant with the scan of its label; each serial number occurs once."""
        self.serials += 1
        item = rng.choice(self.implants[size])
        serial = f"S{240_000 + self.serials * 13}"
        return book.add(
            "implantuse",
            level=treated,
            stock_item=item,
            side=side,
            fate="implanted",
            size_label=size,
            raw_scan=names.scan(item["gtin"], item["expires_on"], item["lot"], serial),
            gtin=item["gtin"],
            lot=item["lot"],
            serial=serial,
            expires_on=item["expires_on"],
            expansion_mm=tenth(rng.uniform(2.0, 7.0)),
        )

    def cement_lot(self, rng: Random, on: date) -> tuple[str, date]:
        """Return lot and expiry of cement as it was on the shelf on a day."""
        quarter = (self.today - on).days // 91
        return f"C{7400 + quarter * 3 + rng.randint(0, 1)}", on + timedelta(days=300)


def add_shelf(book: Book, staff: dict[str, Row], today: date) -> Shelf:
    """Write the techniques, with the approval of the new one, and the stock of today."""
    since = today - timedelta(days=round(parameters.NEW_TECHNIQUE_MONTHS.value * 30.44))
    approval = {
        "is_new_here": True,
        "approving_committee": "New procedures committee",
        "approved_on": since,
        "conditions": "Two named operators; every case in the register; team decision recorded.",
        "supervised_cases": 5,
        "review_after_cases": 40,
        "review_on": today + timedelta(days=58),
        "stopping_rule": "Two new neurological deficits, or any death within 30 days.",
    }
    techniques = {
        route: book.add(
            "technique",
            site=staff["site"],
            route=route,
            operators=[staff["consultant"], staff["consultant2"]],
            **details,
            **(approval if route == "expandable" else {}),
        )
        for route, details in TECHNIQUES.items()
    }
    implants = _implants(book, staff["site"], today)
    _add_supplies(book, staff["site"], today)
    return Shelf(techniques, implants, today)


def _implants(book: Book, site: Row, today: date) -> dict[str, list[Row]]:
    stock: dict[str, list[Row]] = {}
    for place, size in enumerate(IMPLANT_SIZES):
        stock[size] = [
            book.add(
                "stockitem",
                site=site,
                kind="implant",
                name="Expandable implant",
                size_label=size,
                gtin=names.gtin(1100 + place),
                lot=f"E{5120 + place * 40 + lot}",
                expires_on=today + timedelta(days=240 + 170 * lot - 25 * place),
                quantity=6 - 2 * lot,
                reorder_at=4,
                mri_statement="Titanium alloy; conditions as on the patient's implant card.",
                diameter_mm=Decimal(size.removesuffix(" mm")),
                length_mm=IMPLANT_LENGTH_MM,
                **SUPPLIERS_TABLE.get(size, {}),
            )
            for lot in range(LOTS_PER_SIZE)
        ]
    return stock


def _add_supplies(book: Book, site: Row, today: date) -> None:
    supplies = (
        ("cement", "Acrylic bone cement, high viscosity", "20 mL", 14, 8, 300),
        ("cement", "Acrylic bone cement, medium viscosity", "20 mL", 5, 4, 140),
        ("balloon", "Balloon set", "15 mm", 8, 4, 410),
        ("balloon", "Balloon set", "20 mm", 3, 4, 35),
        ("needle", "Access needle", "10 G", 40, 20, 700),
        ("needle", "Access needle", "13 G", 24, 12, 610),
        ("screw", "Cement-augmented pedicle screw", "5.5 × 45 mm", 12, 8, 900),
    )
    for place, (kind, name, size, quantity, reorder, shelf_days) in enumerate(supplies):
        book.add(
            "stockitem",
            site=site,
            kind=kind,
            name=name,
            size_label=size,
            gtin=names.gtin(2200 + place),
            lot=f"D{8300 + place * 7}",
            expires_on=today + timedelta(days=shelf_days),
            quantity=quantity,
            reorder_at=reorder,
        )
