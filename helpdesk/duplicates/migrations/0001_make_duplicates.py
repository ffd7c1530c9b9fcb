"""Make traces, prints of photos and proposals."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("cases", "0008_let_people_give_up"),
        ("photos", "0001_make_photos"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="PhotoPrint",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("small", models.BinaryField(help_text="A JPEG copy of at most 128 px.")),
                (
                    "photo",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="print",
                        to="photos.photo",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Proposal",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("probability", models.FloatField()),
                (
                    "reasons",
                    models.JSONField(default=list, help_text="List of {kind, words, weight}."),
                ),
                ("made_at", models.DateTimeField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("open", "not decided"),
                            ("same", "the same print"),
                            ("apart", "not the same"),
                        ],
                        default="open",
                        max_length=5,
                    ),
                ),
                ("decided_at", models.DateTimeField(blank=True, null=True)),
                (
                    "seen_photos",
                    models.JSONField(
                        default=list,
                        help_text="Ids of the photos both cases had when they were kept apart.",
                    ),
                ),
                (
                    "decided_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "first",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="cases.case",
                    ),
                ),
                (
                    "first_photo",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to="photos.photo",
                    ),
                ),
                (
                    "moved",
                    models.ForeignKey(
                        blank=True,
                        help_text="The case that was joined to the other.",
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to="cases.case",
                    ),
                ),
                (
                    "second",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="cases.case",
                    ),
                ),
                (
                    "second_photo",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to="photos.photo",
                    ),
                ),
            ],
            options={
                "ordering": ["-probability", "-pk"],
                "indexes": [
                    models.Index(fields=["state", "-probability"], name="proposal_by_state"),
                    models.Index(fields=["second", "state"], name="proposal_of_second"),
                ],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("first", "second"), name="proposal_once_a_pair"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("first__lt", models.F("second"))),
                        name="proposal_pair_in_order",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("probability__gte", 0), ("probability__lte", 1)),
                        name="proposal_probability_range",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Trace",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.SmallIntegerField(
                        choices=[
                            (1, "link"),
                            (2, "address or handle"),
                            (3, "run of words"),
                            (4, "band of a photo’s hash"),
                            (5, "word of a photo"),
                        ]
                    ),
                ),
                ("value", models.BigIntegerField()),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="traces",
                        to="cases.case",
                    ),
                ),
                (
                    "photo",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="traces",
                        to="photos.photo",
                    ),
                ),
            ],
            options={
                "indexes": [models.Index(fields=["kind", "value"], name="trace_look_up")],
            },
        ),
    ]
