"""Make subjects, statements with their evidence, remarks and notices."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("cases", "0009_find_cases_by_arrival"),
        ("outbox", "0005_name_letters_to_makers"),
        ("photos", "0001_make_photos"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Notice",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("title", models.CharField(max_length=120)),
                (
                    "fault",
                    models.CharField(help_text="Id of the fault that was found.", max_length=60),
                ),
                ("fault_name", models.CharField(max_length=120)),
                (
                    "caution",
                    models.TextField(
                        blank=True,
                        default="",
                        help_text="What to do at once, where it is dangerous.",
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("draft", "draft"),
                            ("ready", "public"),
                            ("withdrawn", "withdrawn"),
                        ],
                        default="draft",
                        max_length=9,
                    ),
                ),
                ("version", models.PositiveIntegerField(default=1)),
                ("made_at", models.DateTimeField()),
                ("ready_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_why", models.TextField(blank=True, default="")),
            ],
            options={
                "ordering": ["-made_at", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="NothingAdverse",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("reason", models.TextField()),
                ("faults", models.JSONField(default=list)),
                ("subjects", models.JSONField(default=list, help_text="Ids.")),
                ("by_name", models.CharField(max_length=80)),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "case",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="nothing_adverse",
                        to="cases.case",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Statement",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("text", models.TextField()),
                ("version", models.PositiveIntegerField(default=1)),
                ("written_by_name", models.CharField(max_length=80)),
                ("written_at", models.DateTimeField()),
                (
                    "case",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="statements",
                        to="cases.case",
                    ),
                ),
                (
                    "notice",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="statement",
                        to="supply.notice",
                    ),
                ),
                (
                    "written_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="ReplyRequest",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("statement_text", models.TextField(help_text="The statement as it stood then.")),
                ("text", models.TextField(help_text="The letter, or what was said.")),
                (
                    "way",
                    models.CharField(
                        choices=[
                            ("mail", "by e-mail from this desk"),
                            ("own_mail", "by e-mail from elsewhere"),
                            ("form", "by a form on their page"),
                            ("post", "by post"),
                            ("phone", "by telephone"),
                            ("other", "another way"),
                        ],
                        max_length=8,
                    ),
                ),
                ("to", models.CharField(max_length=300)),
                ("on_date", models.DateField()),
                ("asked_by_name", models.CharField(max_length=80)),
                ("noted_at", models.DateTimeField()),
                (
                    "asked_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "mail",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to="outbox.outgoingmail",
                    ),
                ),
                (
                    "statement",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="requests",
                        to="supply.statement",
                    ),
                ),
            ],
            options={
                "ordering": ["on_date", "pk"],
            },
        ),
        migrations.CreateModel(
            name="Subject",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("maker", "maker"),
                            ("seller", "seller"),
                            ("product", "product"),
                            ("batch", "batch"),
                        ],
                        max_length=8,
                    ),
                ),
                (
                    "product_kind",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("filament", "filament or resin"),
                            ("part", "bought part"),
                            ("printer", "printer"),
                        ],
                        default="",
                        max_length=8,
                    ),
                ),
                ("name", models.CharField(max_length=80)),
                ("name_key", models.CharField(editable=False, max_length=240)),
                ("contact_name", models.CharField(blank=True, default="", max_length=120)),
                ("contact_email", models.EmailField(blank=True, default="", max_length=254)),
                ("contact_other", models.CharField(blank=True, default="", max_length=300)),
                (
                    "is_from_report",
                    models.BooleanField(
                        default=False,
                        help_text="The desk noted it from a report; nobody looked at it yet.",
                    ),
                ),
                ("made_at", models.DateTimeField()),
                (
                    "parent",
                    models.ForeignKey(
                        blank=True,
                        help_text="The maker of a product, or the product of a batch.",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="children",
                        to="supply.subject",
                    ),
                ),
            ],
            options={
                "ordering": ["name_key", "pk"],
            },
        ),
        migrations.AddField(
            model_name="statement",
            name="subject",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="statements",
                to="supply.subject",
            ),
        ),
        migrations.CreateModel(
            name="Remark",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[("correction", "correction"), ("reply", "reply")], max_length=10
                    ),
                ),
                (
                    "said",
                    models.TextField(
                        blank=True, default="", help_text="What was said, as it was said."
                    ),
                ),
                ("text", models.TextField(help_text="What is right, or the words of the reply.")),
                (
                    "who",
                    models.CharField(help_text="Who asked for it, or who replied.", max_length=120),
                ),
                ("on_date", models.DateField()),
                ("episode_number", models.PositiveIntegerField(blank=True, null=True)),
                ("second", models.PositiveIntegerField(blank=True, null=True)),
                ("noted_by_name", models.CharField(max_length=80)),
                ("noted_at", models.DateTimeField()),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_by_name", models.CharField(blank=True, default="", max_length=80)),
                ("withdrawn_why", models.TextField(blank=True, default="")),
                (
                    "noted_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "statement",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="replies",
                        to="supply.statement",
                    ),
                ),
                (
                    "subject",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="remarks",
                        to="supply.subject",
                    ),
                ),
            ],
            options={
                "ordering": ["-on_date", "-pk"],
            },
        ),
        migrations.AddField(
            model_name="notice",
            name="subject",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="notices",
                to="supply.subject",
            ),
        ),
        migrations.CreateModel(
            name="Entry",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("what", models.CharField(max_length=200)),
                ("why", models.TextField(blank=True, default="")),
                ("actor_name", models.CharField(max_length=80)),
                ("at", models.DateTimeField()),
                (
                    "actor",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "subject",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="entries",
                        to="supply.subject",
                    ),
                ),
            ],
            options={
                "ordering": ["-at", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="SubjectCase",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("is_by_hand", models.BooleanField(default=False)),
                (
                    "is_dropped",
                    models.BooleanField(default=False, help_text="Somebody said it is not so."),
                ),
                ("noted_at", models.DateTimeField()),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="subject_links",
                        to="cases.case",
                    ),
                ),
                (
                    "subject",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="links",
                        to="supply.subject",
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="SubjectName",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=80)),
                ("name_key", models.CharField(max_length=240)),
                (
                    "subject",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="other_names",
                        to="supply.subject",
                    ),
                ),
            ],
            options={
                "ordering": ["name_key"],
            },
        ),
        migrations.CreateModel(
            name="WordingOverride",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("rule", models.CharField(max_length=40)),
                ("phrase", models.CharField(blank=True, default="", max_length=200)),
                (
                    "sentence",
                    models.TextField(
                        help_text="It holds as long as this sentence stands as it is."
                    ),
                ),
                ("reason", models.TextField()),
                ("by_name", models.CharField(max_length=80)),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "statement",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="overrides",
                        to="supply.statement",
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="EvidencePicture",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("shows", models.CharField(max_length=300)),
                (
                    "photo",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="photos.photo",
                    ),
                ),
                (
                    "statement",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="pictures",
                        to="supply.statement",
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("statement", "photo"), name="evidence_photo_once"
                    )
                ],
            },
        ),
        migrations.AddConstraint(
            model_name="subject",
            constraint=models.UniqueConstraint(
                condition=models.Q(("parent__isnull", False)),
                fields=("kind", "parent", "name_key"),
                name="subject_once_below_its_parent",
            ),
        ),
        migrations.AddConstraint(
            model_name="subject",
            constraint=models.UniqueConstraint(
                condition=models.Q(("parent__isnull", True)),
                fields=("kind", "name_key"),
                name="subject_once_without_parent",
            ),
        ),
        migrations.AddConstraint(
            model_name="subject",
            constraint=models.CheckConstraint(
                condition=models.Q(("parent", models.F("id")), _negated=True),
                name="subject_not_its_own_parent",
            ),
        ),
        migrations.AddConstraint(
            model_name="statement",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("case__isnull", True), ("notice__isnull", True), _connector="XOR"
                ),
                name="statement_of_case_or_notice",
            ),
        ),
        migrations.AddConstraint(
            model_name="remark",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("second__isnull", True), ("episode_number__isnull", False), _connector="OR"
                ),
                name="remark_second_has_episode",
            ),
        ),
        migrations.AddConstraint(
            model_name="subjectcase",
            constraint=models.UniqueConstraint(
                fields=("subject", "case"), name="subject_once_a_case"
            ),
        ),
        migrations.AddConstraint(
            model_name="subjectname",
            constraint=models.UniqueConstraint(
                fields=("subject", "name_key"), name="subject_name_once"
            ),
        ),
    ]
