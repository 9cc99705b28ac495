from django.db import migrations

from fleet.guards import never_changes


class Migration(migrations.Migration):
    dependencies = [("pressures", "0001_initial")]

    operations = [
        never_changes(
            "pressures_bulletin",
            name="pressures_bulletin_frozen",
            columns="day_id,number,guidance_id,content,digest,issued_at,issued_by_id",
        ),
    ]
