from __future__ import annotations

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import fleet.clock
from fleet.guards import AppendOnly

SIGN_IN = "signin"


def key() -> tuple[str, models.Field]:
    return "id", models.BigAutoField(
        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
    )


def recorded() -> list[tuple[str, models.Field]]:
    return [
        ("recorded_at", models.DateTimeField(default=fleet.clock.now, editable=False)),
        (
            "submission_id",
            models.UUIDField(
                help_text="Made with the form: a second copy of it changes nothing.", unique=True
            ),
        ),
        (
            "recorded_by",
            models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
    ]


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0034_second_step"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Passkey",
            fields=[
                key(),
                *recorded(),
                (
                    "name",
                    models.CharField(
                        help_text="Where it is kept, such as: my phone.", max_length=60
                    ),
                ),
                (
                    "host",
                    models.CharField(
                        help_text="The name of the site it was made for; it works at no other.",
                        max_length=253,
                    ),
                ),
                (
                    "credential_id",
                    models.CharField(
                        help_text="What the device calls it, in base64url.",
                        max_length=1400,
                        unique=True,
                    ),
                ),
                (
                    "public_key",
                    models.TextField(help_text="What its answers are held to, in base64url."),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="passkeys",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={"ordering": ["-pk"]},
        ),
        migrations.CreateModel(
            name="PasskeyEnd",
            fields=[
                key(),
                *recorded(),
                ("reason", models.CharField(max_length=200, verbose_name="why it was taken away")),
                (
                    "passkey",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="end",
                        to="fleet.passkey",
                    ),
                ),
            ],
            options={"ordering": ["-pk"]},
        ),
        migrations.CreateModel(
            name="PasskeyUse",
            fields=[
                key(),
                (
                    "sign_count",
                    models.BigIntegerField(
                        help_text="What its device counted up to; 0 where that counts nothing."
                    ),
                ),
                ("used_at", models.DateTimeField(null=True)),
                (
                    "passkey",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="use",
                        to="fleet.passkey",
                    ),
                ),
            ],
        ),
        migrations.AddConstraint(
            "passkey",
            models.CheckConstraint(
                condition=models.Q(("name", ""), _negated=True), name="passkey_named"
            ),
        ),
        migrations.AddConstraint(
            "passkeyend",
            models.CheckConstraint(
                condition=models.Q(("reason", ""), _negated=True), name="passkey_ended_for_a_reason"
            ),
        ),
        AppendOnly("Passkey"),
        AppendOnly("PasskeyEnd"),
        migrations.AlterField(
            SIGN_IN,
            "what",
            models.CharField(
                choices=[
                    ("in", "signed in"),
                    ("in key", "signed in by a passkey, with no password"),
                    ("code", "took the second step: a code"),
                    ("key", "took the second step: a passkey"),
                    ("out", "signed out"),
                    ("failed", "was not let in"),
                    ("locked", "was locked out for a while: wrong passwords too often"),
                ],
                max_length=6,
            ),
        ),
        migrations.RemoveConstraint(SIGN_IN, "sign_in_of_a_kind"),
        migrations.AddConstraint(
            SIGN_IN,
            models.CheckConstraint(
                condition=models.Q(
                    ("what__in", ["in", "in key", "code", "key", "out", "failed", "locked"])
                ),
                name="sign_in_of_a_kind",
            ),
        ),
        AppendOnly("SignIn"),
    ]
