
import django.core.validators
import django.db.models.deletion
import django.utils.timezone
from decimal import Decimal
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0006_rectangles'),
        ('studio', '0010_layouts'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='MetalHolder',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField(default=django.utils.timezone.now)),
                ('reason', models.CharField(blank=True, max_length=200)),
            ],
            options={
                'ordering': ['at', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='PartEntry',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('measured', 'came out with this size'), ('wrong_cut', 'cut wrong'), ('lost', 'spoilt')], max_length=9)),
                ('part', models.PositiveSmallIntegerField()),
                ('width_mm', models.DecimalField(blank=True, decimal_places=2, max_digits=7, null=True)),
                ('height_mm', models.DecimalField(blank=True, decimal_places=2, max_digits=7, null=True)),
                ('outline', models.TextField(blank=True)),
                ('cause', models.CharField(blank=True, max_length=200)),
                ('at', models.DateTimeField(default=django.utils.timezone.now)),
            ],
            options={
                'ordering': ['at', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='StockSignOff',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('started', 'started'), ('stuck', 'papers stuck on'), ('done', 'signed as done'), ('checked', 'checked by the teacher'), ('sent_back', 'sent back by the teacher'), ('override', 'rule lifted by a teacher')], max_length=9)),
                ('at', models.DateTimeField(default=django.utils.timezone.now)),
                ('reason', models.CharField(blank=True, max_length=200)),
                ('set_aside', models.JSONField(default=list, help_text='The rules that an override set aside, such as permit:shear.')),
                ('wording_sha', models.CharField(max_length=64)),
            ],
            options={
                'ordering': ['at', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='StockStep',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveSmallIntegerField()),
                ('kind', models.CharField(max_length=10)),
                ('title', models.CharField(max_length=60)),
                ('wording', models.JSONField(help_text='Instructions, cautions and needs as issued.')),
                ('wording_sha', models.CharField(max_length=64)),
                ('permits', models.JSONField(default=list, help_text='Codes of the permits it needs.')),
                ('wait_minutes', models.PositiveSmallIntegerField(default=0)),
                ('teacher_signs', models.BooleanField(default=False)),
                ('started_at', models.DateTimeField(null=True)),
                ('wait_until', models.DateTimeField(null=True)),
                ('student_signed_at', models.DateTimeField(null=True)),
                ('done_at', models.DateTimeField(null=True)),
            ],
            options={
                'ordering': ['number'],
            },
        ),
        migrations.CreateModel(
            name='WayTry',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('way', models.CharField(choices=[('alone', "one student's on each stock piece"), ('parted', 'parted first, with the shear'), ('sawn', 'sawn apart first'), ('passed', 'passed on from hand to hand')], max_length=6)),
                ('state', models.CharField(choices=[('queued', 'waiting for a worker'), ('running', 'being worked out'), ('done', 'worked out'), ('cannot', 'cannot be gone'), ('failed', 'failed')], default='queued', max_length=8)),
                ('job', models.JSONField(default=dict)),
                ('answer', models.JSONField(blank=True, null=True)),
                ('money', models.DecimalField(blank=True, decimal_places=2, max_digits=9, null=True)),
                ('consumed_mm2', models.DecimalField(blank=True, decimal_places=2, max_digits=12, null=True)),
                ('unplaced', models.PositiveSmallIntegerField(default=0)),
                ('told', models.CharField(blank=True, max_length=300)),
                ('worker', models.CharField(blank=True, max_length=80)),
                ('attempts', models.PositiveSmallIntegerField(default=0)),
                ('lease_until', models.DateTimeField(blank=True, null=True)),
                ('queued_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.RemoveConstraint(
            model_name='planstock',
            name='one_live_plan_per_stock_piece',
        ),
        migrations.AddField(
            model_name='benchsetup',
            name='shear',
            field=models.CharField(choices=[('none', 'no shear'), ('hand', 'bench shear, worked by hand'), ('foot', 'guillotine, worked by foot'), ('power', 'guillotine, power-driven')], default='none', max_length=5),
        ),
        migrations.AddField(
            model_name='benchsetup',
            name='shear_cut_mm',
            field=models.DecimalField(blank=True, decimal_places=1, max_digits=6, null=True, validators=[django.core.validators.MinValueValidator(Decimal('20')), django.core.validators.MaxValueValidator(Decimal('2000'))]),
        ),
        migrations.AddField(
            model_name='cutplan',
            name='adds_to',
            field=models.ForeignKey(blank=True, help_text="The plan at the bench to whose metal this one's pieces are added.", null=True, on_delete=django.db.models.deletion.PROTECT, related_name='additions', to='studio.cutplan'),
        ),
        migrations.AddField(
            model_name='cutplan',
            name='parent',
            field=models.ForeignKey(blank=True, help_text="The shared plan whose sheet was parted: this is one student's part of it.", null=True, on_delete=django.db.models.deletion.PROTECT, related_name='own_plans', to='studio.cutplan'),
        ),
        migrations.AddField(
            model_name='cutplan',
            name='to_lay_anew',
            field=models.BooleanField(default=False, help_text='The blank came out so that the layout does not hold on it.'),
        ),
        migrations.AddField(
            model_name='cutplan',
            name='way',
            field=models.CharField(blank=True, choices=[('alone', "one student's on each stock piece"), ('parted', 'parted first, with the shear'), ('sawn', 'sawn apart first'), ('passed', 'passed on from hand to hand')], default='alone', help_text='Empty: placed before sheets were shared by rule, to be laid anew.', max_length=6),
        ),
        migrations.AddField(
            model_name='layout',
            name='cuts',
            field=models.JSONField(default=list, help_text="Where the metal of a class's plan is parted."),
        ),
        migrations.AddField(
            model_name='placingsettings',
            name='saw_margin_mm',
            field=models.DecimalField(blank=True, decimal_places=2, max_digits=5, null=True, validators=[django.core.validators.MinValueValidator(Decimal('0')), django.core.validators.MaxValueValidator(Decimal('20'))]),
        ),
        migrations.AddField(
            model_name='placingsettings',
            name='saw_strip_mm',
            field=models.DecimalField(blank=True, decimal_places=2, max_digits=5, null=True, validators=[django.core.validators.MinValueValidator(Decimal('2')), django.core.validators.MaxValueValidator(Decimal('100'))]),
        ),
        migrations.AddField(
            model_name='placingsettings',
            name='sharing',
            field=models.CharField(blank=True, choices=[('parted', 'parted first, with the shear'), ('sawn', 'sawn apart first'), ('passed', 'passed on from hand to hand')], help_text='Empty: by the tools of the room.', max_length=6),
        ),
        migrations.AddField(
            model_name='placingsettings',
            name='shear_margin_mm',
            field=models.DecimalField(blank=True, decimal_places=2, max_digits=5, null=True, validators=[django.core.validators.MinValueValidator(Decimal('0')), django.core.validators.MaxValueValidator(Decimal('20'))]),
        ),
        migrations.AddField(
            model_name='placingsettings',
            name='shear_strip_mm',
            field=models.DecimalField(blank=True, decimal_places=2, max_digits=5, null=True, validators=[django.core.validators.MinValueValidator(Decimal('2')), django.core.validators.MaxValueValidator(Decimal('100'))]),
        ),
        migrations.AddField(
            model_name='planproject',
            name='left_out_at',
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='planproject',
            name='left_out_by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='planproject',
            name='left_out_why',
            field=models.CharField(blank=True, max_length=200),
        ),
        migrations.AddField(
            model_name='planproject',
            name='turn',
            field=models.PositiveSmallIntegerField(default=0, help_text='Whose turn it is to saw, from 1; 0 where there are no turns.'),
        ),
        migrations.AddField(
            model_name='planstock',
            name='addition',
            field=models.BooleanField(default=False),
        ),
        migrations.AlterField(
            model_name='cutplan',
            name='state',
            field=models.CharField(choices=[('placing', 'being placed'), ('proposed', 'proposed'), ('approved', 'approved, metal reserved'), ('issued', 'metal handed out'), ('closed', 'closed'), ('dropped', 'dropped'), ('parted', 'parted into blanks')], default='placing', max_length=8),
        ),
        migrations.AddConstraint(
            model_name='planstock',
            constraint=models.UniqueConstraint(condition=models.Q(('addition', False), ('live', True)), fields=('stock_piece',), name='one_live_plan_per_stock_piece'),
        ),
        migrations.AddField(
            model_name='metalholder',
            name='by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='metalholder',
            name='plan_stock',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='holders', to='studio.planstock'),
        ),
        migrations.AddField(
            model_name='metalholder',
            name='share',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='held', to='studio.planproject'),
        ),
        migrations.AddField(
            model_name='partentry',
            name='by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='partentry',
            name='corrects',
            field=models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='studio.partentry'),
        ),
        migrations.AddField(
            model_name='partentry',
            name='plan_stock',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='part_entries', to='studio.planstock'),
        ),
        migrations.AddField(
            model_name='partentry',
            name='share',
            field=models.ForeignKey(blank=True, help_text="Whose blank it is; nobody's where it goes back to the rack.", null=True, on_delete=django.db.models.deletion.PROTECT, related_name='part_entries', to='studio.planproject'),
        ),
        migrations.AddField(
            model_name='stocksignoff',
            name='by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='stocksignoff',
            name='share',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='stuck', to='studio.planproject'),
        ),
        migrations.AddField(
            model_name='stocksignoff',
            name='stand_in',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='stockstep',
            name='plan_stock',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='steps', to='studio.planstock'),
        ),
        migrations.AddField(
            model_name='stocksignoff',
            name='step',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='sign_offs', to='studio.stockstep'),
        ),
        migrations.AddField(
            model_name='waytry',
            name='plan',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='way_tries', to='studio.cutplan'),
        ),
        migrations.AddConstraint(
            model_name='partentry',
            constraint=models.CheckConstraint(condition=models.Q(('kind', 'measured'), models.Q(('cause', ''), _negated=True), _connector='OR'), name='a_wrong_cut_has_a_cause'),
        ),
        migrations.AddConstraint(
            model_name='stockstep',
            constraint=models.UniqueConstraint(fields=('plan_stock', 'number'), name='one_stock_step_per_number'),
        ),
        migrations.AddConstraint(
            model_name='stockstep',
            constraint=models.UniqueConstraint(fields=('plan_stock', 'kind'), name='one_stock_step_per_kind'),
        ),
        migrations.AddConstraint(
            model_name='stocksignoff',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind__in', ['override', 'sent_back']), _negated=True), models.Q(('reason', ''), _negated=True), _connector='OR'), name='a_lifted_stock_rule_has_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='stocksignoff',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind', 'stuck'), _negated=True), ('share__isnull', False), _connector='OR'), name='stuck_papers_are_somebodys'),
        ),
        migrations.AddIndex(
            model_name='waytry',
            index=models.Index(fields=['state', 'lease_until'], name='studio_wayt_state_f20943_idx'),
        ),
        migrations.AddConstraint(
            model_name='waytry',
            constraint=models.UniqueConstraint(fields=('plan', 'way'), name='one_try_of_a_way_per_plan'),
        ),
    ]
