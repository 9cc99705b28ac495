from django.db import migrations

from fleet.guards import never_below_zero, no_overlap


class Migration(migrations.Migration):
    dependencies = [("inventory", "0001_initial")]

    operations = [
        no_overlap(
            "inventory_fitting",
            name="inventory_fitting_tire_overlap",
            same="tire_id",
            start="fitted_at",
            end="removed_at",
        ),
        no_overlap(
            "inventory_fitting",
            name="inventory_fitting_axle_overlap",
            same="wheel_pair_id,axle",
            start="fitted_at",
            end="removed_at",
        ),
        never_below_zero(
            "inventory_stockmovement",
            name="inventory_stockmovement_not_below_zero",
            parent="inventory_lot",
            key="lot_id",
            place="place",
        ),
    ]
