"""A session of a rider's week can be pinned to a day."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("programs", "0002_tenancy")]

    operations = [
        migrations.AddField("sessionkey", "pinned_on", models.DateField(blank=True, null=True)),
    ]
