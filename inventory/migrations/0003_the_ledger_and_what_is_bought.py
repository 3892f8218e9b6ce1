
import django.core.validators
import django.db.models.deletion
import django.utils.timezone
from decimal import Decimal
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0002_sheets_say_how_they_join'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Bin',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=20, unique=True)),
                ('position', models.PositiveIntegerField(default=0)),
            ],
            options={
                'ordering': ['position', 'name'],
            },
        ),
        migrations.CreateModel(
            name='Foil',
            fields=[
                ('item_ptr', models.OneToOneField(auto_created=True, on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, serialize=False, to='inventory.item')),
                ('shape', models.CharField(max_length=40)),
                ('height_cm', models.FloatField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(5), django.core.validators.MaxValueValidator(500)])),
                ('gas_volume_l', models.FloatField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(0.1), django.core.validators.MaxValueValidator(5000)])),
                ('lift_g', models.FloatField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(5000)])),
            ],
            bases=('inventory.item',),
        ),
        migrations.CreateModel(
            name='Movement',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('received', 'Came in'), ('picked', 'Picked'), ('back', 'Came back'), ('used', 'Used'), ('burst', 'Burst'), ('thrown', 'Thrown away'), ('lost', 'Lost'), ('worn', 'Worn out'), ('counted', 'Counted'), ('corrected', 'Corrected')], max_length=9)),
                ('store', models.IntegerField(default=0)),
                ('out', models.IntegerField(default=0)),
                ('at', models.DateTimeField(default=django.utils.timezone.now)),
                ('why', models.CharField(blank=True, max_length=200)),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='Order',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.CharField(max_length=12, unique=True)),
                ('supplier', models.CharField(blank=True, max_length=80)),
                ('state', models.CharField(choices=[('draft', 'Not sent'), ('sent', 'On order'), ('done', 'All here'), ('cancelled', 'Cancelled')], default='draft', max_length=9)),
                ('created', models.DateTimeField(default=django.utils.timezone.now)),
                ('sent', models.DateTimeField(blank=True, null=True)),
                ('due_on', models.DateField(blank=True, null=True)),
                ('note', models.CharField(blank=True, max_length=200)),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='OrderLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('packs', models.PositiveIntegerField(validators=[django.core.validators.MinValueValidator(1)])),
                ('pack_size', models.PositiveIntegerField(default=1, validators=[django.core.validators.MinValueValidator(1)])),
                ('pack_price', models.DecimalField(decimal_places=2, default=Decimal('0'), max_digits=10)),
                ('what_for', models.JSONField(blank=True, default=list)),
            ],
        ),
        migrations.CreateModel(
            name='Supplier',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=80, unique=True)),
                ('email', models.EmailField(blank=True, max_length=254)),
                ('phone', models.CharField(blank=True, max_length=40)),
                ('our_number', models.CharField(blank=True, max_length=40)),
                ('note', models.CharField(blank=True, max_length=200)),
            ],
            options={
                'ordering': ['name'],
            },
        ),
        migrations.RemoveConstraint(
            model_name='lot',
            name='lot_quantity_positive',
        ),
        migrations.RemoveIndex(
            model_name='reservationline',
            name='line_item_span',
        ),
        migrations.AddField(
            model_name='cylinder',
            name='rent_per_week',
            field=models.DecimalField(decimal_places=2, default=Decimal('0'), max_digits=8, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(99999)]),
        ),
        migrations.AddField(
            model_name='cylinder',
            name='rented',
            field=models.BooleanField(default=False),
        ),
        migrations.AddField(
            model_name='item',
            name='reorder_level',
            field=models.PositiveIntegerField(blank=True, null=True, validators=[django.core.validators.MaxValueValidator(1000000)]),
        ),
        migrations.AddField(
            model_name='lot',
            name='batch',
            field=models.CharField(blank=True, max_length=40),
        ),
        migrations.AddField(
            model_name='lot',
            name='split_from',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='splits', to='inventory.lot'),
        ),
        migrations.AddField(
            model_name='lot',
            name='uses_left',
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='reservationline',
            name='counts',
            field=models.BooleanField(default=True),
        ),
        migrations.AlterField(
            model_name='hardware',
            name='purpose',
            field=models.CharField(choices=[('pole', 'Pole'), ('base', 'Base plate'), ('clip', 'Clip'), ('magnet', 'Magnet'), ('line', 'Line'), ('inflator', 'Inflator'), ('sizer', 'Sizer'), ('bin', 'Bin or crate'), ('ribbon', 'Ribbon'), ('weight', 'Weight'), ('net', 'Net for a drop'), ('other', 'Other')], default='other', max_length=20),
        ),
        migrations.AlterField(
            model_name='item',
            name='kind',
            field=models.CharField(choices=[('sheet', 'Sheet'), ('latex', 'Balloons'), ('hardware', 'Hardware'), ('cylinder', 'Gas cylinder'), ('foil', 'Foil shape')], editable=False, max_length=10),
        ),
        migrations.AlterField(
            model_name='reservation',
            name='state',
            field=models.CharField(choices=[('hold', 'On hold'), ('confirmed', 'Confirmed'), ('released', 'Released'), ('settled', 'Counted back')], default='hold', max_length=9),
        ),
        migrations.AddIndex(
            model_name='reservation',
            index=models.Index(fields=['state', 'expires'], name='reservation_lapsing'),
        ),
        migrations.AddIndex(
            model_name='reservationline',
            index=models.Index(condition=models.Q(('counts', True)), fields=['item', 'starts', 'ends', 'quantity', 'reservation'], name='line_live_span'),
        ),
        migrations.AddField(
            model_name='movement',
            name='by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='movement',
            name='item',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='movements', to='inventory.item'),
        ),
        migrations.AddField(
            model_name='movement',
            name='lot',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='movements', to='inventory.lot'),
        ),
        migrations.AddField(
            model_name='movement',
            name='reservation',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='movements', to='inventory.reservation'),
        ),
        migrations.AddConstraint(
            model_name='order',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('state', 'sent'), _negated=True), models.Q(('sent__isnull', False), ('due_on__isnull', False)), _connector='OR'), name='sent_order_is_due'),
        ),
        migrations.AddField(
            model_name='orderline',
            name='item',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.item'),
        ),
        migrations.AddField(
            model_name='orderline',
            name='order',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='lines', to='inventory.order'),
        ),
        migrations.AddField(
            model_name='lot',
            name='order_line',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='lots', to='inventory.orderline'),
        ),
        migrations.AddIndex(
            model_name='lot',
            index=models.Index(condition=models.Q(('received', False)), fields=['item', 'arrives_on'], name='lot_on_order'),
        ),
        migrations.AddConstraint(
            model_name='lot',
            constraint=models.CheckConstraint(condition=models.Q(('quantity__gt', 0), ('split_from__isnull', False), _connector='OR'), name='lot_quantity_positive'),
        ),
        migrations.AddConstraint(
            model_name='lot',
            constraint=models.UniqueConstraint(fields=('split_from', 'uses_left'), name='one_split_for_each_use'),
        ),
        migrations.AddIndex(
            model_name='movement',
            index=models.Index(fields=['item', 'lot', 'store', 'out'], name='movement_sums'),
        ),
        migrations.AddIndex(
            model_name='movement',
            index=models.Index(fields=['reservation', 'item'], name='movement_reservation'),
        ),
        migrations.AddIndex(
            model_name='movement',
            index=models.Index(fields=['at'], name='movement_at'),
        ),
        migrations.AddConstraint(
            model_name='movement',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('store', 0), _negated=True), models.Q(('out', 0), _negated=True), _connector='OR'), name='movement_moves'),
        ),
        migrations.AddConstraint(
            model_name='movement',
            constraint=models.CheckConstraint(condition=models.Q(('out', 0), ('reservation__isnull', False), _connector='OR'), name='out_with_an_event'),
        ),
        migrations.AddConstraint(
            model_name='orderline',
            constraint=models.CheckConstraint(condition=models.Q(('packs__gt', 0)), name='order_packs_positive'),
        ),
        migrations.AddConstraint(
            model_name='orderline',
            constraint=models.UniqueConstraint(fields=('order', 'item'), name='one_order_line_per_item'),
        ),
    ]
