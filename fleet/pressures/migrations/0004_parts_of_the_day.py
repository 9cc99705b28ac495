"""Every stored line gets the one part its guidance had: the whole day, under its one weather."""

import uuid
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

import django.db.models.deletion
from django.db import migrations, models


def give_the_whole_day(apps, schema_editor):
    Guidance = apps.get_model("pressures", "Guidance")
    GuidancePart = apps.get_model("pressures", "GuidancePart")
    GuidanceLine = apps.get_model("pressures", "GuidanceLine")
    for guidance in Guidance.objects.select_related("day__layout__track").iterator():
        zone = ZoneInfo(guidance.day.layout.track.time_zone)
        midnight, next_midnight = (
            datetime.combine(guidance.day.date + timedelta(days=n), time(), zone) for n in (0, 1)
        )
        part = GuidancePart.objects.create(
            guidance=guidance, starts_at=midnight, ends_at=next_midnight, conditions_id=guidance.conditions_id
        )
        GuidanceLine.objects.filter(guidance=guidance).update(part=part)


class Migration(migrations.Migration):

    dependencies = [
        ("events", "0004_day_parts"),
        ("pressures", "0003_override"),
    ]

    operations = [
        migrations.CreateModel(
            name="GuidancePart",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("name", models.CharField(blank=True, max_length=30)),
                ("starts_at", models.DateTimeField()),
                ("ends_at", models.DateTimeField()),
                ("conditions", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="events.conditions")),
                ("guidance", models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name="parts", to="pressures.guidance")),
            ],
            options={
                "ordering": ["starts_at"],
                "constraints": [
                    models.UniqueConstraint(fields=("guidance", "starts_at"), name="pressures_guidancepart_once"),
                    models.CheckConstraint(condition=models.Q(("ends_at__gt", models.F("starts_at"))), name="pressures_guidancepart_has_time"),
                ],
            },
        ),
        migrations.AddField(
            model_name="guidanceline",
            name="part",
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name="lines", to="pressures.guidancepart"),
        ),
        migrations.RemoveConstraint(model_name="guidanceline", name="pressures_guidanceline_once_an_entry"),
        migrations.RemoveConstraint(model_name="guidanceline", name="pressures_guidanceline_once_a_spec"),
        migrations.AddConstraint(
            model_name="guidanceline",
            constraint=models.UniqueConstraint(condition=models.Q(("entry__isnull", False)), fields=("part", "entry", "axle"), name="pressures_guidanceline_once_an_entry"),
        ),
        migrations.AddConstraint(
            model_name="guidanceline",
            constraint=models.UniqueConstraint(condition=models.Q(("entry__isnull", True)), fields=("part", "group", "spec", "uses_warmers"), name="pressures_guidanceline_once_a_spec"),
        ),
        migrations.RunPython(give_the_whole_day, migrations.RunPython.noop),
    ]
