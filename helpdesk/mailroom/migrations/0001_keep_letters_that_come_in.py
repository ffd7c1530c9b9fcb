"""Make the rows of letters that come in and of the mailboxes they come from."""

import django.db.models.deletion
from django.db import migrations, models

import helpdesk.mailroom.models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("cases", "0007_join_cases"),
    ]

    operations = [
        migrations.CreateModel(
            name="Mailbox",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "name",
                    models.CharField(
                        help_text="Without the password.", max_length=200, unique=True
                    ),
                ),
                ("uid_validity", models.PositiveBigIntegerField(blank=True, null=True)),
                ("last_uid", models.PositiveBigIntegerField(default=0)),
                ("lease_until", models.DateTimeField(blank=True, null=True)),
                ("polled_at", models.DateTimeField(blank=True, null=True)),
                ("failed_since", models.DateTimeField(blank=True, null=True)),
                ("last_error", models.CharField(blank=True, default="", max_length=300)),
            ],
            options={
                "verbose_name_plural": "mailboxes",
            },
        ),
        migrations.CreateModel(
            name="IncomingMail",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("sha256", models.CharField(max_length=64, unique=True)),
                (
                    "file",
                    models.FileField(
                        blank=True,
                        max_length=200,
                        storage=helpdesk.mailroom.models.letter_storage,
                        upload_to="",
                    ),
                ),
                ("size_bytes", models.PositiveBigIntegerField()),
                (
                    "origin",
                    models.CharField(
                        help_text="The mailbox or command it came by.", max_length=120
                    ),
                ),
                (
                    "is_polled",
                    models.BooleanField(default=False, help_text="Fetched by the desk on its own."),
                ),
                ("wants_receipt", models.BooleanField(default=True)),
                ("received_at", models.DateTimeField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "waiting to be read"),
                            ("taken", "taken to a case"),
                            ("kept", "kept"),
                            ("quarantined", "set aside for a look"),
                            ("dismissed", "looked at, nothing to do"),
                            ("erased", "erased"),
                        ],
                        default="waiting",
                        max_length=12,
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("automatic", "written by a machine"),
                            ("bounce", "says that a letter did not arrive"),
                            ("list", "sent to a mailing list"),
                            ("loop", "our own letter, or one going round"),
                            ("copy", "another copy of a letter already here"),
                            ("match", "may belong to a case"),
                        ],
                        default="",
                        max_length=10,
                    ),
                ),
                ("reason", models.CharField(blank=True, default="", max_length=300)),
                (
                    "message_id",
                    models.CharField(blank=True, db_index=True, default="", max_length=998),
                ),
                ("content_sha256", models.CharField(blank=True, default="", max_length=64)),
                (
                    "sent_at",
                    models.DateTimeField(blank=True, help_text="As the letter says.", null=True),
                ),
                ("sender", models.CharField(blank=True, default="", max_length=254)),
                ("sender_name", models.CharField(blank=True, default="", max_length=80)),
                ("subject", models.CharField(blank=True, default="", max_length=200)),
                ("text", models.TextField(blank=True, default="", help_text="All of its text.")),
                ("words", models.TextField(blank=True, default="", help_text="What of it is new.")),
                (
                    "fields",
                    models.JSONField(blank=True, default=list, help_text="[name, value] as shown."),
                ),
                (
                    "notes",
                    models.JSONField(
                        blank=True, default=list, help_text="Sentences for a reviewer."
                    ),
                ),
                (
                    "files",
                    models.JSONField(blank=True, default=list, help_text="Names of its files."),
                ),
                ("owner_name", models.CharField(blank=True, default="", max_length=80)),
                ("owner_address", models.CharField(blank=True, default="", max_length=254)),
                (
                    "is_from_another",
                    models.BooleanField(
                        default=False, help_text="A reply from another address than the person's."
                    ),
                ),
                (
                    "effect",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("", "nothing"),
                            ("report", "opened the case"),
                            ("reply", "a reply"),
                        ],
                        default="",
                        max_length=6,
                    ),
                ),
                ("acknowledged_at", models.DateTimeField(blank=True, null=True)),
                (
                    "case",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="letters_in",
                        to="cases.case",
                    ),
                ),
                (
                    "suggested_case",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="letters_maybe",
                        to="cases.case",
                    ),
                ),
            ],
            options={
                "ordering": ["-received_at", "-pk"],
                "indexes": [
                    models.Index(fields=["state", "received_at", "id"], name="letter_in_state"),
                    models.Index(fields=["sender", "received_at"], name="letter_in_sender"),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "state__in",
                                ["waiting", "taken", "kept", "quarantined", "dismissed", "erased"],
                            )
                        ),
                        name="letter_in_state_known",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="SeenLetter",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uid", models.CharField(max_length=70)),
                (
                    "mailbox",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="seen",
                        to="mailroom.mailbox",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("mailbox", "uid"), name="seen_letter_once")
                ],
            },
        ),
    ]
