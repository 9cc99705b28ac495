"""A removal onto hold named its vendor by the hold alone."""

import uuid

from django.db import migrations


def take_from_holds(apps, _schema_editor):
    removals, holds = apps.get_model("inventory", "Removal"), apps.get_model("inventory", "Hold")
    for removal in removals.objects.filter(destination="on_hold", vendor=None).only("pk").iterator():
        hold = holds.objects.filter(pk=uuid.uuid5(removal.pk, "hold")).first()
        if hold:
            removals.objects.filter(pk=removal.pk).update(vendor=hold.placed_for_id)


class Migration(migrations.Migration):
    dependencies = [("inventory", "0005_prices")]
    operations = [migrations.RunPython(take_from_holds, migrations.RunPython.noop)]
