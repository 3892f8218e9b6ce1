from django.db import transaction

from decor.studio.versions import save_unchanged
from jobs.clients.models import Client

FIELDS = ("name", "organisation", "phone", "phone_digits", "email", "note")


@transaction.atomic
def client_add(*, name: str, organisation: str = "", phone: str = "", email: str = "", note: str = "") -> Client:
    return Client.objects.create(name=name, organisation=organisation, phone=phone, email=email, note=note)


@transaction.atomic
def client_change(*, client: Client, version: int) -> Client:
    """Raises Changed when somebody else saved since this version."""
    client.phone_digits = "".join(c for c in client.phone if c.isdigit())
    save_unchanged(client, version=version, fields=FIELDS)
    return client
