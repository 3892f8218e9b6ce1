"""Every lot that was received gets its first line in the ledger; what was released no longer counts."""

from datetime import UTC, datetime, time

from django.db import migrations


def forward(apps, schema_editor):
    Lot, Movement = apps.get_model("inventory", "Lot"), apps.get_model("inventory", "Movement")
    ReservationLine = apps.get_model("inventory", "ReservationLine")
    Movement.objects.bulk_create(
        (
            Movement(
                lot_id=lot.pk,
                item_id=lot.item_id,
                kind="received",
                store=lot.quantity,
                at=datetime.combine(lot.arrives_on, time.min, tzinfo=UTC),
            )
            for lot in Lot.objects.filter(received=True)
        ),
        batch_size=2000,
    )
    ReservationLine.objects.filter(reservation__state="released").update(counts=False)


class Migration(migrations.Migration):
    dependencies = [("inventory", "0003_the_ledger_and_what_is_bought")]

    operations = [migrations.RunPython(forward, migrations.RunPython.noop)]
