"""Take the addresses of the people there are as confirmed: those who run the service gave them."""

from django.db import migrations


def confirm(apps, schema_editor):
    """Store the address of each person who has none."""
    address = apps.get_model("account", "EmailAddress")
    people = apps.get_model("accounts", "Person").objects.exclude(
        pk__in=address.objects.values("user_id")
    )
    address.objects.bulk_create(
        [address(user_id=one.pk, email=one.email, verified=True, primary=True) for one in people.iterator()]
    )


class Migration(migrations.Migration):
    dependencies = [
        ("account", "0009_emailaddress_unique_primary_email"),
        ("accounts", "0002_api_keys"),
    ]
    operations = [migrations.RunPython(confirm, migrations.RunPython.noop)]
