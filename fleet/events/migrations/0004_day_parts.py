from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("events", "0003_calendar_link")]

    operations = [
        migrations.AddField(
            model_name="day",
            name="parts",
            field=models.CharField(choices=[("three", "Morning, midday, afternoon"), ("hours", "Every hour")], default="three", max_length=5),
        ),
    ]
