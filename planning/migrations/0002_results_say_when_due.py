from django.db import migrations, models


class Migration(migrations.Migration):
    """A result keeps by which stage it is due, and what would settle the matter."""

    dependencies = [
        ("planning", "0001_initial"),
    ]

    operations = [
        migrations.AddField(
            model_name="ruleresult",
            name="due",
            field=models.CharField(blank=True, default="", max_length=24),
        ),
        migrations.AddField(
            model_name="ruleresult",
            name="action",
            field=models.JSONField(blank=True, default=dict),
        ),
        migrations.AlterField(
            model_name="ruleresult",
            name="inputs",
            field=models.JSONField(default=list),
        ),
    ]
