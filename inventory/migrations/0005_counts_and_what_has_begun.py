
import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0004_what_is_here_came_in'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Count',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField(default=django.utils.timezone.now)),
                ('found', models.PositiveIntegerField()),
                ('said', models.IntegerField()),
                ('why', models.CharField(blank=True, max_length=200)),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.AddField(
            model_name='reservation',
            name='begun',
            field=models.BooleanField(default=False, help_text='something was picked for it'),
        ),
        migrations.AddIndex(
            model_name='reservation',
            index=models.Index(condition=models.Q(('begun', True)), fields=['state'], name='reservation_begun'),
        ),
        migrations.AddField(
            model_name='count',
            name='by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='count',
            name='item',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='counts', to='inventory.item'),
        ),
        migrations.AddIndex(
            model_name='count',
            index=models.Index(fields=['item', 'at'], name='count_item_at'),
        ),
    ]
