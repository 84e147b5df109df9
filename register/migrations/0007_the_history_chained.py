"""The history's hash chain, and the index by which a patient's history is found."""

from django.db import migrations

from register.history.operations import CreateHistoryChain, IndexHistoryByPatient


class Migration(migrations.Migration):
    dependencies = [("register", "0006_shared_cache")]

    operations = [CreateHistoryChain(), IndexHistoryByPatient()]
