import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("pressures", "0004_parts_of_the_day")]

    operations = [
        migrations.AlterField(
            model_name="guidanceline",
            name="part",
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name="lines", to="pressures.guidancepart"),
        ),
    ]
