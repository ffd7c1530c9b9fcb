"""Make people, their contacts, their parts in cases and merges."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("cases", "0007_join_cases"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Contact",
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
                        choices=[("mail", "e-mail"), ("handle", "handle"), ("link", "link")],
                        max_length=6,
                    ),
                ),
                ("value", models.CharField(help_text="As it was given.", max_length=500)),
                (
                    "key",
                    models.CharField(
                        help_text="The value in its one written form.", max_length=500
                    ),
                ),
                (
                    "place",
                    models.CharField(
                        blank=True,
                        default="",
                        help_text="The server or network of a handle.",
                        max_length=80,
                    ),
                ),
                ("place_key", models.CharField(blank=True, default="", max_length=80)),
                (
                    "verified",
                    models.CharField(
                        choices=[
                            ("said", "given with a report"),
                            ("wrote", "they wrote from it"),
                            ("checked", "checked by us"),
                        ],
                        default="said",
                        max_length=7,
                    ),
                ),
                ("noted_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="Person",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(blank=True, default="", max_length=80)),
                (
                    "said_as",
                    models.CharField(
                        blank=True,
                        default="",
                        help_text="Spelt the way it sounds, for who reads the run sheet aloud.",
                        max_length=80,
                        verbose_name="how the name is said",
                    ),
                ),
                (
                    "credit_kind",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("name", "by name"),
                            ("handle", "by handle"),
                            ("anonymous", "not named"),
                        ],
                        default="",
                        max_length=10,
                        verbose_name="wish for credits",
                    ),
                ),
                (
                    "notes",
                    models.TextField(
                        blank=True, default="", help_text="Only people of the desk read this."
                    ),
                ),
                ("first_seen_at", models.DateTimeField()),
                (
                    "merged_into",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="merged",
                        to="people.person",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "people",
                "ordering": ["-pk"],
            },
        ),
        migrations.CreateModel(
            name="Part",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("submitter", "sent it"),
                            ("owner", "whose print it is"),
                            ("finder", "pointed it out"),
                        ],
                        max_length=9,
                    ),
                ),
                (
                    "credit_kind",
                    models.CharField(
                        choices=[
                            ("name", "by name"),
                            ("handle", "by handle"),
                            ("anonymous", "not named"),
                        ],
                        default="anonymous",
                        max_length=10,
                    ),
                ),
                ("credit_as", models.CharField(blank=True, default="", max_length=80)),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="parts",
                        to="cases.case",
                    ),
                ),
                (
                    "via",
                    models.ForeignKey(
                        blank=True,
                        help_text="The address by which the case was told to be theirs.",
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="parts",
                        to="people.contact",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="parts",
                        to="people.person",
                    ),
                ),
            ],
            options={
                "ordering": ["case_id", "role"],
            },
        ),
        migrations.CreateModel(
            name="Merge",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "contacts",
                    models.JSONField(default=list, help_text="Ids of the contacts that moved."),
                ),
                ("parts", models.JSONField(default=list, help_text="Ids of the parts that moved.")),
                (
                    "before",
                    models.JSONField(
                        default=dict, help_text="Fields of the kept one that were filled."
                    ),
                ),
                ("after", models.JSONField(default=dict, help_text="What they were filled with.")),
                ("at", models.DateTimeField()),
                ("undone_at", models.DateTimeField(blank=True, null=True)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "gone",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="people.person",
                    ),
                ),
                (
                    "kept",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="merges",
                        to="people.person",
                    ),
                ),
            ],
            options={
                "ordering": ["-at", "-pk"],
            },
        ),
        migrations.AddField(
            model_name="contact",
            name="person",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE,
                related_name="contacts",
                to="people.person",
            ),
        ),
        migrations.AddConstraint(
            model_name="person",
            constraint=models.CheckConstraint(
                condition=models.Q(("merged_into", models.F("id")), _negated=True),
                name="person_not_its_own_merge",
            ),
        ),
        migrations.AddConstraint(
            model_name="part",
            constraint=models.UniqueConstraint(
                fields=("case", "role"), name="part_one_person_a_role"
            ),
        ),
        migrations.AddConstraint(
            model_name="contact",
            constraint=models.UniqueConstraint(
                condition=models.Q(("kind", "mail")), fields=("key",), name="contact_mail_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="contact",
            constraint=models.UniqueConstraint(
                condition=models.Q(("kind", "handle"), models.Q(("place_key", ""), _negated=True)),
                fields=("key", "place_key"),
                name="contact_handle_once_a_place",
            ),
        ),
    ]
