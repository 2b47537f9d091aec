from __future__ import annotations

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import fleet.clock
from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0025_outages_reach_back"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="ApiToken",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("recorded_at", models.DateTimeField(default=fleet.clock.now, editable=False)),
                (
                    "submission_id",
                    models.UUIDField(
                        help_text="Made with the form: a second copy of it changes nothing.",
                        unique=True,
                    ),
                ),
                (
                    "name",
                    models.CharField(
                        help_text="What uses it, such as: telematics of the cranes.", max_length=60
                    ),
                ),
                ("role", models.CharField(max_length=20)),
                ("scopes", models.JSONField(help_text="What it may do: some of ApiScope.")),
                (
                    "expires_on",
                    models.DateField(
                        help_text="The last day on which it works.", verbose_name="holds until"
                    ),
                ),
                (
                    "begins",
                    models.CharField(
                        help_text="How it begins, so that one found lying about can be told.",
                        max_length=12,
                    ),
                ),
                (
                    "token_hash",
                    models.CharField(help_text="SHA-256, in hex.", max_length=64, unique=True),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
            },
        ),
        migrations.CreateModel(
            name="ApiTokenEnd",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("recorded_at", models.DateTimeField(default=fleet.clock.now, editable=False)),
                (
                    "submission_id",
                    models.UUIDField(
                        help_text="Made with the form: a second copy of it changes nothing.",
                        unique=True,
                    ),
                ),
                ("reason", models.CharField(max_length=200, verbose_name="why it works no more")),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "token",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="end",
                        to="fleet.apitoken",
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
            },
        ),
        migrations.CreateModel(
            name="ApiTokenUse",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("used_at", models.DateTimeField()),
                (
                    "token",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="use",
                        to="fleet.apitoken",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="ApiWrite",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("recorded_at", models.DateTimeField(default=fleet.clock.now, editable=False)),
                (
                    "submission_id",
                    models.UUIDField(
                        help_text="Made with the form: a second copy of it changes nothing.",
                        unique=True,
                    ),
                ),
                ("path", models.CharField(max_length=80)),
                (
                    "body_hash",
                    models.CharField(help_text="SHA-256 of what was sent, in hex.", max_length=64),
                ),
                ("record_model", models.CharField(max_length=60)),
                ("record_key", models.BigIntegerField()),
                ("answer", models.TextField(help_text="The JSON it was answered with.")),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "token",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="writes",
                        to="fleet.apitoken",
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
            },
        ),
        migrations.AddConstraint(
            model_name="apitoken",
            constraint=models.CheckConstraint(
                condition=models.Q(("name", ""), _negated=True), name="api_token_named"
            ),
        ),
        migrations.AddConstraint(
            model_name="apitoken",
            constraint=models.CheckConstraint(
                condition=models.Q(("role__in", ["equipment manager", "dispatcher", "auditor"])),
                name="api_token_role_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="apitokenend",
            constraint=models.CheckConstraint(
                condition=models.Q(("reason", ""), _negated=True),
                name="api_token_ended_for_a_reason",
            ),
        ),
        migrations.AddIndex(
            model_name="apiwrite",
            index=models.Index(fields=["record_model", "record_key"], name="api_write_of_record"),
        ),
        AppendOnly("ApiToken"),
        AppendOnly("ApiTokenEnd"),
        AppendOnly("ApiWrite"),
    ]
