from django.db import migrations


def van_from_rates(apps, schema_editor):
    """The rates asked for the van's room too, and theirs counted: it becomes the studio's."""
    for studio in apps.get_model("studio", "Studio").objects.all():
        room = studio.rates.pop("van_room_m3", None)
        if room is not None:
            studio.van_volume_m3 = min(100.0, max(0.5, room))
            studio.save(update_fields=["rates", "van_volume_m3"])


class Migration(migrations.Migration):
    dependencies = [
        ("studio", "0004_what_is_near_and_soon"),
    ]

    operations = [migrations.RunPython(van_from_rates, migrations.RunPython.noop)]
