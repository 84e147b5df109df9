import django.contrib.postgres.fields
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from register.history.operations import HistoryTrigger


class Migration(migrations.Migration):
    """Images of a study, the marks on them, and what was computed from the marks."""

    dependencies = [
        ("register", "0013_log_references_once_in_any_case"),
    ]

    operations = [
        migrations.CreateModel(
            name="ImageFile",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("created_at", models.DateTimeField(auto_now_add=True)),
                ("version", models.PositiveIntegerField(default=1)),
                ("absent", models.JSONField(blank=True, default=dict)),
                ("unusual", models.JSONField(blank=True, default=dict)),
                ("voided_at", models.DateTimeField(blank=True, null=True)),
                ("void_reason", models.CharField(blank=True, default="", max_length=300)),
                ("sha256", models.CharField(max_length=64)),
                ("size_bytes", models.PositiveBigIntegerField()),
                ("kind", models.CharField(max_length=24)),
                ("file_name", models.CharField(blank=True, default="", max_length=300)),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="ImageFrame",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("created_at", models.DateTimeField(auto_now_add=True)),
                ("version", models.PositiveIntegerField(default=1)),
                ("absent", models.JSONField(blank=True, default=dict)),
                ("unusual", models.JSONField(blank=True, default=dict)),
                ("voided_at", models.DateTimeField(blank=True, null=True)),
                ("void_reason", models.CharField(blank=True, default="", max_length=300)),
                ("number", models.PositiveIntegerField(default=0)),
                ("place", models.PositiveIntegerField(default=0)),
                ("rows", models.PositiveIntegerField()),
                ("columns", models.PositiveIntegerField()),
                ("row_mm", models.FloatField(blank=True, null=True)),
                ("column_mm", models.FloatField(blank=True, null=True)),
                ("basis", models.CharField(default="none", max_length=24)),
                ("aspect", models.FloatField(default=1.0)),
                (
                    "position",
                    django.contrib.postgres.fields.ArrayField(
                        base_field=models.FloatField(), blank=True, default=list, size=None
                    ),
                ),
                (
                    "orientation",
                    django.contrib.postgres.fields.ArrayField(
                        base_field=models.FloatField(), blank=True, default=list, size=None
                    ),
                ),
                ("slope", models.FloatField(default=1.0)),
                ("intercept", models.FloatField(default=0.0)),
                ("centre", models.FloatField(blank=True, null=True)),
                ("width", models.FloatField(blank=True, null=True)),
                ("inverted", models.BooleanField(default=False)),
                ("layout", models.CharField(default="uint16", max_length=24)),
            ],
            options={
                "ordering": ["place", "pk"],
            },
        ),
        migrations.CreateModel(
            name="ImageSeries",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("created_at", models.DateTimeField(auto_now_add=True)),
                ("version", models.PositiveIntegerField(default=1)),
                ("absent", models.JSONField(blank=True, default=dict)),
                ("unusual", models.JSONField(blank=True, default=dict)),
                ("voided_at", models.DateTimeField(blank=True, null=True)),
                ("void_reason", models.CharField(blank=True, default="", max_length=300)),
                ("uid", models.CharField(blank=True, default="", max_length=64)),
                ("number", models.IntegerField(blank=True, null=True)),
                ("description", models.CharField(blank=True, default="", max_length=100)),
                (
                    "made_with",
                    models.CharField(
                        blank=True,
                        default="",
                        help_text="Kind of image as the file names it",
                        max_length=16,
                    ),
                ),
                ("plane", models.CharField(default="other", max_length=24)),
                ("frame_of_reference", models.CharField(blank=True, default="", max_length=64)),
                ("told", models.JSONField(blank=True, default=dict)),
                ("confirmed_for", models.PositiveBigIntegerField(blank=True, null=True)),
                ("identity_confirmed_at", models.DateTimeField(blank=True, null=True)),
                ("identity_note", models.CharField(blank=True, default="", max_length=300)),
            ],
            options={
                "ordering": ["number", "pk"],
            },
        ),
        migrations.CreateModel(
            name="Marking",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("created_at", models.DateTimeField(auto_now_add=True)),
                ("version", models.PositiveIntegerField(default=1)),
                ("absent", models.JSONField(blank=True, default=dict)),
                ("unusual", models.JSONField(blank=True, default=dict)),
                ("voided_at", models.DateTimeField(blank=True, null=True)),
                ("void_reason", models.CharField(blank=True, default="", max_length=300)),
                ("marked_on", models.DateField()),
                ("view", models.CharField(max_length=24)),
                ("marks", models.JSONField(default=dict)),
                ("mirrored", models.BooleanField(default=False)),
                (
                    "point_error_mm",
                    models.DecimalField(blank=True, decimal_places=3, max_digits=5, null=True),
                ),
            ],
            options={
                "ordering": ["-marked_on", "-pk"],
            },
        ),
        migrations.AddField(
            model_name="measurement",
            name="outline",
            field=models.JSONField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="measurement",
            name="plus_minus",
            field=models.JSONField(blank=True, default=dict),
        ),
        migrations.AddField(
            model_name="study",
            name="numbering_confirmed_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="study",
            name="numbering_confirmed_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="study",
            name="numbering_note",
            field=models.CharField(
                blank=True,
                default="",
                help_text="How this numbering agrees with another study that numbers differently",
                max_length=300,
            ),
        ),
        migrations.AlterField(
            model_name="measurement",
            name="angle_end_plates",
            field=models.CharField(
                blank=True,
                default="",
                help_text="For example upper T12 to lower L1",
                max_length=400,
            ),
        ),
        migrations.AddConstraint(
            model_name="study",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("numbering_confirmed_at", None), ("numbering_confirmed_by", None)),
                    models.Q(
                        models.Q(("numbering_confirmed_by", None), _negated=True),
                        models.Q(("numbering_confirmed_at", None), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="study_numbering_confirmed_by_a_person",
                violation_error_message="The numbering is confirmed by a named person.",
            ),
        ),
        migrations.AddField(
            model_name="imagefile",
            name="study",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="image_files",
                to="register.study",
            ),
        ),
        migrations.AddField(
            model_name="imageframe",
            name="file",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="frames",
                to="register.imagefile",
            ),
        ),
        migrations.AddField(
            model_name="imageseries",
            name="identity_confirmed_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="imageseries",
            name="study",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="series",
                to="register.study",
            ),
        ),
        migrations.AddField(
            model_name="imageframe",
            name="series",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="frames",
                to="register.imageseries",
            ),
        ),
        migrations.AddField(
            model_name="marking",
            name="frame",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="markings",
                to="register.imageframe",
            ),
        ),
        migrations.AddField(
            model_name="marking",
            name="observer",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="markings",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="marking",
            name="reading",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="markings",
                to="register.reading",
            ),
        ),
        migrations.AddField(
            model_name="marking",
            name="repeats",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="repeated_by",
                to="register.marking",
            ),
        ),
        migrations.AddField(
            model_name="measurement",
            name="marking",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="measurements",
                to="register.marking",
            ),
        ),
        migrations.AddConstraint(
            model_name="imagefile",
            constraint=models.CheckConstraint(
                condition=models.Q(("kind__in", ["dicom", "picture"])),
                name="image_file_kind_known",
                violation_error_message="Choose one of the listed answers for kind.",
            ),
        ),
        migrations.AddConstraint(
            model_name="imagefile",
            constraint=models.CheckConstraint(
                condition=models.Q(("sha256__regex", "^[0-9a-f]{64}$")),
                name="image_file_sha256_written_so",
                violation_error_message="A SHA-256 has 64 hexadecimal digits.",
            ),
        ),
        migrations.AddConstraint(
            model_name="imagefile",
            constraint=models.UniqueConstraint(
                condition=models.Q(("voided_at", None)),
                fields=("study", "sha256"),
                name="image_file_once_per_study",
                violation_error_message="This file is in the study already.",
            ),
        ),
        migrations.AddConstraint(
            model_name="imagefile",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("void_reason", ""), ("voided_at", None)),
                    models.Q(
                        models.Q(("voided_at", None), _negated=True),
                        models.Q(("void_reason", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="image_file_void_with_reason",
                violation_error_message="Say why this entry is voided.",
            ),
        ),
        migrations.AddConstraint(
            model_name="imageseries",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("plane__in", ["lateral", "frontal", "sagittal", "axial", "coronal", "other"])
                ),
                name="image_series_plane_known",
                violation_error_message="Choose one of the listed answers for plane.",
            ),
        ),
        migrations.AddConstraint(
            model_name="imageseries",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("identity_confirmed_at", None), ("identity_confirmed_by", None)),
                    models.Q(
                        models.Q(("identity_confirmed_by", None), _negated=True),
                        models.Q(("identity_confirmed_at", None), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="image_series_identity_confirmed_by_a_person",
                violation_error_message="Whose images these are is confirmed by a named person.",
            ),
        ),
        migrations.AddConstraint(
            model_name="imageseries",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("void_reason", ""), ("voided_at", None)),
                    models.Q(
                        models.Q(("voided_at", None), _negated=True),
                        models.Q(("void_reason", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="image_series_void_with_reason",
                violation_error_message="Say why this entry is voided.",
            ),
        ),
        migrations.AddConstraint(
            model_name="imageframe",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("basis__in", ["calibrated", "magnification", "known_length", "none"])
                ),
                name="image_frame_basis_known",
                violation_error_message="Choose one of the listed answers for basis.",
            ),
        ),
        migrations.AddConstraint(
            model_name="imageframe",
            constraint=models.CheckConstraint(
                condition=models.Q(("layout__in", ["uint8", "uint16", "int16", "rgb8"])),
                name="image_frame_layout_known",
                violation_error_message="Choose one of the listed answers for layout.",
            ),
        ),
        migrations.AddConstraint(
            model_name="imageframe",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("rows", None),
                    models.Q(("rows__gte", 1), ("rows__lte", 65535)),
                    _connector="OR",
                ),
                name="image_frame_rows_possible",
                violation_error_message="Rows of a picture must be from 1 to 65535.",
            ),
        ),
        migrations.AddConstraint(
            model_name="imageframe",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("columns", None),
                    models.Q(("columns__gte", 1), ("columns__lte", 65535)),
                    _connector="OR",
                ),
                name="image_frame_columns_possible",
                violation_error_message="Columns of a picture must be from 1 to 65535.",
            ),
        ),
        migrations.AddConstraint(
            model_name="imageframe",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("basis", "none"), ("column_mm", None), ("row_mm", None)),
                    models.Q(
                        models.Q(("basis", "none"), _negated=True),
                        ("column_mm__gt", 0),
                        ("row_mm__gt", 0),
                    ),
                    _connector="OR",
                ),
                name="image_frame_scale_has_a_basis",
                violation_error_message="Millimetres need a calibrated scale, and its basis.",
            ),
        ),
        migrations.AddConstraint(
            model_name="imageframe",
            constraint=models.CheckConstraint(
                condition=models.Q(("aspect__gt", 0)),
                name="image_frame_aspect_above_zero",
                violation_error_message="The aspect of a pixel is above 0.",
            ),
        ),
        migrations.AddConstraint(
            model_name="imageframe",
            constraint=models.UniqueConstraint(
                condition=models.Q(("voided_at", None)),
                fields=("file", "number"),
                name="image_frame_once_per_file",
                violation_error_message="This frame of the file is there already.",
            ),
        ),
        migrations.AddConstraint(
            model_name="imageframe",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("void_reason", ""), ("voided_at", None)),
                    models.Q(
                        models.Q(("voided_at", None), _negated=True),
                        models.Q(("void_reason", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="image_frame_void_with_reason",
                violation_error_message="Say why this entry is voided.",
            ),
        ),
        migrations.AddConstraint(
            model_name="marking",
            constraint=models.CheckConstraint(
                condition=models.Q(("view__in", ["lateral", "frontal", "axial", "needles"])),
                name="marking_view_known",
                violation_error_message="Choose one of the listed answers for view.",
            ),
        ),
        migrations.AddConstraint(
            model_name="marking",
            constraint=models.CheckConstraint(
                condition=models.Q(("repeats", models.F("id")), _negated=True),
                name="marking_repeats_another",
                violation_error_message="A marking repeats another one, not itself.",
            ),
        ),
        migrations.AddConstraint(
            model_name="marking",
            constraint=models.UniqueConstraint(
                condition=models.Q(("voided_at", None)),
                fields=("reading", "frame", "view"),
                name="marking_once_per_reading_frame_and_view",
                violation_error_message="This picture is marked in this reading already.",
            ),
        ),
        migrations.AddConstraint(
            model_name="marking",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("void_reason", ""), ("voided_at", None)),
                    models.Q(
                        models.Q(("voided_at", None), _negated=True),
                        models.Q(("void_reason", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="marking_void_with_reason",
                violation_error_message="Say why this entry is voided.",
            ),
        ),
        HistoryTrigger("register_imagefile"),
        HistoryTrigger("register_imageseries"),
        HistoryTrigger("register_imageframe"),
        HistoryTrigger("register_marking"),
    ]
