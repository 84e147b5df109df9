"""The department and the people who use the register."""

from typing import ClassVar

from django.contrib.auth.models import AbstractUser
from django.db import models
from django.db.models.functions import Lower
from django.utils.crypto import salted_hmac

from register.domain.vocabulary import ROLE
from register.models.base import choice, known, link, text


class Site(models.Model):
    """A department. Every root record belongs to one; children inherit."""

    name = models.CharField(max_length=120, unique=True)
    code = models.SlugField(max_length=24, unique=True)
    urgent_instruction = text(
        400,
        default="Ring the spinal surgeon on call now.",
        help_text="Shown wherever a fracture needs somebody at once.",
    )

    def __str__(self) -> str:
        return self.name


class User(AbstractUser):
    """A named person. What he or she may do follows from `role` (register.permissions)."""

    site = link(Site, null=True, blank=True, related_name="users")
    role = choice(ROLE)
    job_title = text(80)
    # Part of what a session is checked against: raising it ends all sessions of the person.
    session_epoch = models.PositiveIntegerField(default=0)
    first_steps_hidden = models.BooleanField(default=False)
    # Sign-in times are kept by the sign-in tables, not as an edit of the person.
    last_login = None

    class Meta:
        constraints: ClassVar = [
            known("user", "role", ROLE),
            # People sign in by name whatever the case: of two such names neither would open.
            models.UniqueConstraint(
                Lower("username"),
                name="user_name_once",
                violation_error_message="This user name is taken. Choose another.",
            ),
        ]

    def __str__(self) -> str:
        return self.get_full_name() or self.username

    def _get_session_auth_hash(self, secret: str | None = None) -> str:
        """Return what every session of this person is checked against at every request.

        A change of any part ends all sessions at once. Django calls this with each of
        its fallback secrets, too; the public method has no way to pass one.
        """
        parts = [self.password, self.role, self.site_id, self.is_active, self.session_epoch]
        text = "|".join(map(str, parts))
        return salted_hmac("register.session", text, secret=secret, algorithm="sha256").hexdigest()


class AccessLog(models.Model):
    """Who looked at which identifiable page, and why when a reason was asked. No names inside."""

    at = models.DateTimeField(auto_now_add=True, db_index=True)
    user = link(User, related_name="+")
    patient = link("Patient", null=True, related_name="+")
    page = models.CharField(max_length=80)
    reason = text(300)

    class Meta:
        indexes: ClassVar = [models.Index(fields=["patient", "at"], name="access_by_patient")]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.page}"


class Draft(models.Model):
    """Unfinished typing, kept for its author only; removed when the form is saved."""

    user = link(User, related_name="drafts")
    form = models.CharField(max_length=120)
    title = text(160, help_text="What the page is called, to find it again")
    address = text(200, help_text="The page that goes on with it")
    data = models.JSONField(default=dict)
    saved_at = models.DateTimeField(auto_now=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["user", "form"], name="draft_once_per_form")
        ]

    def __str__(self) -> str:
        return self.form


class FormReceipt(models.Model):
    """One form that was sent in: the same form with the same content is taken once only.

    `key` is a digest of the page's one-time token and what was typed; nothing
    of either can be read from it. `went_to` is the address that was answered with,
    for whoever lost that answer and sends the form again.
    """

    key = models.CharField(max_length=64, unique=True)
    user = link(User, related_name="+")
    went_to = text(300)
    used_at = models.DateTimeField(auto_now_add=True, db_index=True)

    def __str__(self) -> str:
        return self.key[:8]
