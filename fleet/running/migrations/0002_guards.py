from django.db import migrations

from fleet.guards import no_overlap


class Migration(migrations.Migration):
    dependencies = [("running", "0001_initial")]

    operations = [
        no_overlap(
            "running_stint",
            name="running_stint_overlap",
            same="wheel_pair_id",
            start="started_at",
            end="ended_at",
        ),
    ]
