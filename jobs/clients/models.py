from django.db import models
from django.db.models import Q
from django.utils import timezone


class ClientQuerySet(models.QuerySet):
    def matching(self, words: str) -> "ClientQuerySet":
        """By any part of the name or organisation, or by the digits of the telephone number."""
        words = words.strip()
        digits = "".join(c for c in words if c.isdigit())
        found = Q(name__icontains=words) | Q(organisation__icontains=words)
        if len(digits) >= 3:
            found |= Q(phone_digits__contains=digits)
        return self.filter(found) if words else self.none()

    def reached_by(self, *, phone: str, email: str) -> "ClientQuerySet":
        digits = "".join(c for c in phone if c.isdigit())
        same = Q(phone_digits=digits) if digits else Q(pk=None)
        return self.filter(same | Q(email__iexact=email)) if email else self.filter(same)


class Client(models.Model):
    name = models.CharField(max_length=120)
    organisation = models.CharField(max_length=120, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    phone_digits = models.CharField(max_length=40, blank=True, editable=False, db_index=True)
    email = models.EmailField(blank=True)
    note = models.TextField(blank=True)
    version = models.PositiveIntegerField(default=1)
    created = models.DateTimeField(default=timezone.now)

    objects = ClientQuerySet.as_manager()

    class Meta:
        ordering = ["name"]

    def save(self, *args: object, **kwargs: object) -> None:
        self.phone_digits = "".join(c for c in self.phone if c.isdigit())
        super().save(*args, **kwargs)

    def __str__(self) -> str:
        return f"{self.name}, {self.organisation}" if self.organisation else self.name
