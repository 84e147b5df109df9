"""Forms of the administrator: techniques, stock, accounts."""

from typing import Any, ClassVar

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.utils.timezone import localdate

from register.domain.days import day_words
from register.domain.gs1 import is_gtin
from register.domain.vocabulary import PROCEDURE_ROUTES, ROLE, ROUTE
from register.forms.base import RegisterForm, StrictMeta
from register.forms.choices import WordsField
from register.forms.editing import EditForm
from register.forms.layout import Fieldset, helper
from register.models import Site, StockItem, Technique, User
from register.services.people import account_stamp
from register.services.receipts import form_token


class TechniqueForm(EditForm):
    """A technique by its generic name. One that is new here names committee and day."""

    route = WordsField(
        label="Kind",
        required=True,
        vocabulary=[(code, words) for code, words in ROUTE if code in PROCEDURE_ROUTES],
    )
    is_new_here = forms.BooleanField(label="New in this department", required=False)
    operators = forms.ModelMultipleChoiceField(
        User.objects.none(),
        label="May operate",
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    class Meta(StrictMeta):
        model = Technique
        fields: ClassVar = [
            "name", "route", "is_new_here", "approving_committee", "approved_on", "conditions",
            "supervised_cases", "review_after_cases", "review_on", "stopping_rule",
            "typical_minutes", "minutes_per_further_level", "operators", "withdrawn_on",
        ]  # fmt: skip
        labels: ClassVar = {
            "name": "Generic name",
            "approving_committee": "Approved by (committee)",
            "approved_on": "Approved on",
            "conditions": "Conditions",
            "supervised_cases": "Supervised cases needed",
            "review_after_cases": "Review after cases",
            "review_on": "Review on",
            "stopping_rule": "Stop when",
            "typical_minutes": "Usual length",
            "minutes_per_further_level": "Each further level",
            "withdrawn_on": "Not used any more since",
        }
        help_texts: ClassVar = {"name": "No brand: for example “balloon tamping and cement”."}
        widgets: ClassVar = {
            "conditions": forms.Textarea({"rows": 2}),
            "stopping_rule": forms.Textarea({"rows": 2}),
        }

    def __init__(self, *args: Any, site: Site, **options: Any) -> None:
        super().__init__(*args, **options)
        for name in ("approved_on", "withdrawn_on"):
            day: Any = self.fields[name]
            day.bound(latest=localdate, latest_words="today")
        people: Any = self.fields["operators"]
        people.queryset = User.objects.filter(site=site, role="consultant").order_by(
            "last_name", "first_name", "pk"
        )
        if self.instance.pk:
            self.initial["operators"] = list(self.instance.operators.all())
        self.helper = helper(
            self.key,
            Fieldset("Technique", "name", "route", "operators"),
            Fieldset(
                "Approval",
                *("is_new_here", "approving_committee", "approved_on", "conditions"),
                *("supervised_cases", "review_after_cases", "review_on", "stopping_rule"),
            ),
            Fieldset("Theatre", "typical_minutes", "minutes_per_further_level"),
            Fieldset("End", "withdrawn_on"),
            save="Save technique",
        )

    def clean(self) -> dict[str, Any]:
        """A review comes after the approval."""
        cleaned = super().clean()
        approved, review = cleaned.get("approved_on"), cleaned.get("review_on")
        if approved and review and review < approved:
            self.add_error(
                "review_on", f"Review on: must be on or after {day_words(approved)}, the approval."
            )
        return cleaned


class StockForm(EditForm):
    """A lot on the shelf, by generic name."""

    gtin = forms.CharField(
        label="Item number on the label",
        max_length=30,
        required=False,
        help_text="14 digits; leave empty when there is none.",
    )

    class Meta(StrictMeta):
        model = StockItem
        fields: ClassVar = [
            "kind", "name", "size_label", "gtin", "lot", "expires_on", "quantity", "reorder_at",
            "recalled_on", "mri_statement", "diameter_mm", "length_mm", "needs_isthmus_mm",
            "needs_height_mm", "needs_depth_mm", "most_depth_mm",
        ]  # fmt: skip
        labels: ClassVar = {
            "name": "Generic name",
            "size_label": "Size",
            "lot": "Lot",
            "expires_on": "Expires on",
            "quantity": "Number on the shelf",
            "reorder_at": "Order when down to",
            "recalled_on": "Recalled on",
            "mri_statement": "What the maker says on MRI",
            "diameter_mm": "Outer diameter",
            "length_mm": "Length",
            "needs_isthmus_mm": "Least isthmus of the pedicle",
            "needs_height_mm": "Least height of the body",
            "needs_depth_mm": "Least depth of the body",
            "most_depth_mm": "Largest depth of the body",
        }
        help_texts: ClassVar = {
            "name": "No brand: for example “expandable implant”.",
            "diameter_mm": "As it goes through the pedicle, closed.",
            "needs_isthmus_mm": "What the supplier states goes before the register’s arithmetic.",
        }

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["quantity"].required = True
        recalled: Any = self.fields["recalled_on"]
        recalled.bound(latest=localdate, latest_words="today")
        if self.instance.pk is None:
            self.initial["quantity"] = None  # nobody has counted yet
        self.helper = helper(
            self.key,
            Fieldset("What it is", "kind", "name", "size_label", "mri_statement"),
            Fieldset("Its size", "diameter_mm", "length_mm"),
            Fieldset(
                "From the supplier’s table",
                *("needs_isthmus_mm", "needs_height_mm", "needs_depth_mm", "most_depth_mm"),
            ),
            Fieldset("This lot", "gtin", "lot", "expires_on"),
            Fieldset("On the shelf", "quantity", "reorder_at", "recalled_on"),
            save="Save lot",
        )

    def clean_gtin(self) -> str:
        """Take the number without blanks; a mistyped digit does not fit the check digit."""
        digits = "".join(str(self.cleaned_data["gtin"]).split())
        if digits and not is_gtin(digits):
            raise ValidationError(
                "Item number: one of the 14 digits is wrong, the check digit does not fit. "
                "Read the label again."
            )
        return digits


def passphrase_field(label: str) -> forms.CharField:
    """Return a box for a passphrase; blanks inside and at its ends count."""
    return forms.CharField(
        label=label,
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
        help_text="At least 12 characters. Tell it in person; it is changed after signing in.",
        error_messages={"required": f"{label}: enter one."},
    )


class PersonForm(RegisterForm):
    """An account. `person` is None for a new one."""

    username = forms.CharField(
        label="User name",
        max_length=150,
        help_text="Letters, digits and . - _ only.",
        widget=forms.TextInput({"autocomplete": "off"}),
        error_messages={"required": "User name: enter one."},
    )
    first_name = forms.CharField(
        label="Given name", max_length=150, error_messages={"required": "Given name: enter it."}
    )
    last_name = forms.CharField(
        label="Family name", max_length=150, error_messages={"required": "Family name: enter it."}
    )
    job_title = forms.CharField(label="Title on documents", max_length=80, required=False)
    role = WordsField(
        label="Role",
        required=True,
        vocabulary=ROLE,
        error_messages={"required": "Role: choose one."},
    )
    passphrase = passphrase_field("First passphrase")
    is_active = forms.BooleanField(label="May sign in", required=False)
    token = forms.CharField(widget=forms.HiddenInput, required=False, max_length=64)
    stamp = forms.CharField(widget=forms.HiddenInput, required=False, max_length=700)

    def __init__(self, *args: Any, person: User | None, **options: Any) -> None:
        options["initial"] = _stored(person)
        super().__init__(*args, **options)
        self.person = person
        surplus = ("username", "passphrase", "token") if person else ("is_active", "stamp")
        for name in surplus:
            del self.fields[name]
        asked = [name for name in self.fields if name not in ("token", "stamp")]
        self.helper = helper("stamp" if person else "token", *asked, save="Save account")

    def clean_passphrase(self) -> str:
        """Refuse a passphrase that is short, common, or like the person's name."""
        passphrase: str = self.cleaned_data["passphrase"]
        names = ("username", "first_name", "last_name")
        validate_password(
            passphrase, User(**{name: self.cleaned_data.get(name, "") for name in names})
        )
        return passphrase

    def values(self) -> dict[str, Any]:
        """Return what the service wants."""
        asked = [name for name in self.fields if name not in ("token", "stamp")]
        return {name: self.cleaned_data[name] for name in asked}

    def show_conflict(self, now: User) -> None:
        """Tell what stands now, keep what was typed, and let the next save decide knowingly."""
        told = f"{now}, {now.get_role_display()}, {'may' if now.is_active else 'may not'} sign in"
        self.add_error(
            None,
            f"Somebody else changed this account while you had it open. Nothing was saved. "
            f"It is now: {told}. Compare, then save again.",
        )
        again: Any = self.data.copy()  # type: ignore[attr-defined]
        again["stamp"] = account_stamp(now)
        self.data = again


def _stored(person: User | None) -> dict[str, Any]:
    if person is None:
        return {"token": form_token()}
    names = ("first_name", "last_name", "job_title", "role", "is_active")
    return {name: getattr(person, name) for name in names} | {"stamp": account_stamp(person)}


class PassphraseForm(RegisterForm):
    """A new passphrase for somebody who forgot theirs."""

    passphrase = passphrase_field("New passphrase")

    def __init__(self, *args: Any, person: User, **options: Any) -> None:
        super().__init__(*args, **options)
        self.person = person
        self.helper = helper("passphrase", save="Set the passphrase", whose=str(person))

    def clean_passphrase(self) -> str:
        """Refuse a passphrase that is short, common, or like the person's name."""
        passphrase: str = self.cleaned_data["passphrase"]
        validate_password(passphrase, self.person)
        return passphrase
