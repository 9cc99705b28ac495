import re

from django.db import migrations


def name_plants(apps, schema_editor):
    """Fill in the plant of tires whose whole number is known: three symbols of 13, two of 8 to 12 [CFR574]."""
    tires = apps.get_model("inventory", "Tire")
    for tire in tires.objects.exclude(identification="").only("identification", "plant").iterator():
        number = re.sub(r"[\s\-\u2010-\u2015]+", "", tire.identification).upper().removeprefix("DOT")
        if len(number) == 13 or (len(number) in range(8, 13) and number[-4:].isdigit()):
            tire.plant = number[:3] if len(number) == 13 else number[:2]
            tire.save(update_fields=["plant"])


class Migration(migrations.Migration):
    dependencies = [("inventory", "0003_recalls")]

    operations = [migrations.RunPython(name_plants, migrations.RunPython.noop)]
