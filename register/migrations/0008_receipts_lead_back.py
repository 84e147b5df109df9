from django.db import migrations, models


class Migration(migrations.Migration):
    """A form that is sent again is answered with the page that the lost answer led to."""

    dependencies = [("register", "0007_the_history_chained")]

    operations = [
        migrations.AddField(
            model_name="formreceipt",
            name="went_to",
            field=models.CharField(blank=True, default="", max_length=300),
        ),
    ]
