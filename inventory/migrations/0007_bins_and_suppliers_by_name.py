"""Every bin and supplier that an item names gets a row of its own."""

from django.db import migrations


def forward(apps, schema_editor):
    Item = apps.get_model("inventory", "Item")
    for field, model in (("bin", "Bin"), ("supplier", "Supplier")):
        names = {}
        for name in Item.objects.exclude(**{field: ""}).order_by(field).values_list(field, flat=True):
            names.setdefault(name.strip().casefold(), name.strip())
        Model = apps.get_model("inventory", model)
        for at, name in enumerate(sorted(names.values()), start=1):
            more = {"position": at} if model == "Bin" else {}
            Model.objects.get_or_create(name=name, defaults=more)


class Migration(migrations.Migration):
    dependencies = [("inventory", "0006_lists_brought_in_and_photographs")]

    operations = [migrations.RunPython(forward, migrations.RunPython.noop)]
