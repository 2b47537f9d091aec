from __future__ import annotations

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import fleet.clock
from fleet.guards import AppendOnly

KEY = models.BigAutoField(
    auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
)
LEFT_OUT = models.PositiveIntegerField(
    default=0, help_text="How many more came just before it, too many to be kept one by one."
)


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0026_api_tokens"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="SignIn",
            fields=[
                ("id", KEY.clone()),
                (
                    "recorded_at",
                    models.DateTimeField(default=fleet.clock.now, editable=False),
                ),
                (
                    "what",
                    models.CharField(
                        choices=[
                            ("in", "signed in"),
                            ("out", "signed out"),
                            ("failed", "was not let in"),
                        ],
                        max_length=6,
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        help_text="Nobody where the name given is no person’s: it may be a "
                        "password, mistyped.",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("left_out", LEFT_OUT.clone()),
            ],
            options={
                "verbose_name": "sign-in",
                "ordering": ["-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("what__in", ["in", "out", "failed"])),
                        name="sign_in_of_a_kind",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("what", "failed"), ("person__isnull", False), _connector="OR"
                        ),
                        name="sign_in_of_somebody",
                    ),
                ],
            },
        ),
        AppendOnly("SignIn"),
        migrations.CreateModel(
            name="Refusal",
            fields=[
                ("id", KEY.clone()),
                (
                    "recorded_at",
                    models.DateTimeField(default=fleet.clock.now, editable=False),
                ),
                (
                    "why",
                    models.CharField(
                        choices=[
                            ("given", "what was given would not do"),
                            ("role", "not for the role of who asked"),
                            ("often", "asked too often"),
                        ],
                        max_length=5,
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "page",
                    models.CharField(
                        help_text="Its name among the pages of the site.", max_length=80
                    ),
                ),
                (
                    "path",
                    models.CharField(
                        help_text="Its address; of a page that opens without an account only the "
                        "pattern of it, since such an address may itself be what opens the page.",
                        max_length=300,
                    ),
                ),
                ("fields", models.CharField(blank=True, max_length=500)),
                ("words", models.CharField(blank=True, max_length=1000)),
                ("left_out", LEFT_OUT.clone()),
            ],
            options={
                "ordering": ["-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("why__in", ["given", "role", "often"])),
                        name="refusal_of_a_kind",
                    )
                ],
            },
        ),
        AppendOnly("Refusal"),
        migrations.AddIndex(
            model_name="leaf",
            index=models.Index(fields=["recorded_at"], name="leaf_of_day"),
        ),
    ]
