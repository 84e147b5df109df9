import django.contrib.postgres.fields
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    """Warning signs become a list of codes, so that "asked, none" differs from "not asked"."""

    dependencies = [
        ("register", "0002_history_of_sign_in"),
    ]

    operations = [
        migrations.CreateModel(
            name="FormReceipt",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("key", models.CharField(max_length=64, unique=True)),
                ("used_at", models.DateTimeField(auto_now_add=True, db_index=True)),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.RemoveConstraint(model_name="review", name="review_red_flag_was_told"),
        migrations.RemoveField(model_name="review", name="red_flags"),
        migrations.AddField(
            model_name="review",
            name="red_flags",
            field=django.contrib.postgres.fields.ArrayField(
                base_field=models.CharField(max_length=24), blank=True, default=list, size=None
            ),
        ),
        migrations.AddField(
            model_name="review",
            name="red_flags_told_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AlterField(
            model_name="review",
            name="red_flags_told",
            field=models.CharField(
                blank=True, default="", help_text="Who was told", max_length=200
            ),
        ),
        migrations.AddConstraint(
            model_name="review",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("red_flags__contained_by", ["none"]),
                    models.Q(
                        models.Q(("red_flags_told", ""), _negated=True),
                        models.Q(("red_flags_told_at", None), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="review_red_flag_was_told",
                violation_error_message="Say who was told of the warning sign, and when.",
            ),
        ),
        migrations.AddConstraint(
            model_name="review",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "red_flags__contained_by",
                        ["leg_weakness", "bladder_bowel", "fever", "sudden_pain", "none"],
                    ),
                    models.Q(
                        ("red_flags__contains", ["none"]),
                        models.Q(("red_flags__len", 1), _negated=True),
                        _negated=True,
                    ),
                ),
                name="review_red_flags_known",
                violation_error_message='"None of these" cannot stand beside another answer.',
            ),
        ),
    ]
