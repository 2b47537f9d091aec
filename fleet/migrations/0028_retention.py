from __future__ import annotations

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import fleet.clock
from fleet.guards import AppendOnly

KEY = models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")
RECORDED_AT = models.DateTimeField(default=fleet.clock.now, editable=False)
SUBMISSION = models.UUIDField(
    help_text="Made with the form: a second copy of it changes nothing.", unique=True
)
RECORDED_BY = models.ForeignKey(
    on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
)


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0027_sign_ins_and_refusals"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="RetentionRule",
            fields=[
                ("id", KEY.clone()),
                ("recorded_at", RECORDED_AT.clone()),
                ("submission_id", SUBMISSION.clone()),
                ("kind", models.CharField(max_length=40)),
                (
                    "years",
                    models.PositiveSmallIntegerField(
                        help_text="Blank: for ever.", null=True, verbose_name="years to keep"
                    ),
                ),
                (
                    "needs_second_person",
                    models.BooleanField(
                        default=True,
                        help_text="Without it, whoever makes this rule still lets nothing go alone.",
                        verbose_name="a second equipment manager confirms what is let go",
                    ),
                ),
                ("reason", models.CharField(max_length=200, verbose_name="why")),
                ("recorded_by", RECORDED_BY.clone()),
            ],
            options={
                "ordering": ["-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("years", None), ("years__range", (1, 100)), _connector="OR"
                        ),
                        name="retention_for_some_years",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("kind", ""), _negated=True),
                            models.Q(("reason", ""), _negated=True),
                        ),
                        name="retention_of_a_kind_for_a_reason",
                    ),
                ],
            },
        ),
        AppendOnly("RetentionRule"),
        migrations.CreateModel(
            name="LettingGo",
            fields=[
                ("id", KEY.clone()),
                ("recorded_at", RECORDED_AT.clone()),
                ("submission_id", SUBMISSION.clone()),
                ("kind", models.CharField(max_length=40)),
                ("reason", models.CharField(max_length=200, verbose_name="why")),
                ("recorded_by", RECORDED_BY.clone()),
            ],
            options={
                "verbose_name": "letting go of files",
                "ordering": ["-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), _negated=True),
                        name="let_go_for_a_reason",
                    )
                ],
            },
        ),
        AppendOnly("LettingGo"),
        migrations.CreateModel(
            name="FileLetGo",
            fields=[
                ("id", KEY.clone()),
                ("model", models.CharField(max_length=80)),
                ("row_key", models.CharField(max_length=80)),
                ("column", models.CharField(max_length=40)),
                ("name", models.CharField(max_length=200)),
                ("sha256", models.CharField(max_length=64)),
                ("words", models.CharField(max_length=300, verbose_name="what it was")),
                (
                    "letting_go",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="files",
                        to="fleet.lettinggo",
                    ),
                ),
            ],
            options={
                "verbose_name": "file let go",
                "verbose_name_plural": "files let go",
                "ordering": ["-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("model", "row_key", "column"), name="file_let_go_once"
                    )
                ],
            },
        ),
        AppendOnly("FileLetGo"),
    ]
