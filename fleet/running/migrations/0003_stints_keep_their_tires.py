from django.db import migrations

from fleet.guards import keeps_cover


class Migration(migrations.Migration):
    dependencies = [("running", "0002_guards"), ("inventory", "0002_guards")]

    operations = [
        keeps_cover(
            "inventory_fitting",
            name="running_stint_keeps_its_tires",
            same="wheel_pair_id",
            start="fitted_at",
            end="removed_at",
            inner="running_stint",
            inner_start="started_at",
            inner_end="ended_at",
        ),
    ]
