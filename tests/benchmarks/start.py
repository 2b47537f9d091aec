"""How long the site takes to start, beside an empty project with the same apps of others.

`check` looks at every address, and so imports every view: 580 modules of ours take two thirds of
the time, those of others that the empty project does without 2 in 100, and no module more than 1.
A quarter of all is the methods Python makes, by compiling them, for 486 dataclasses; a sixth is
finding and reading compiled modules, a tenth the checks themselves. Models alone are half of it.
Views could be imported once they are asked for, but what is wrong in one would then show to
whoever asks first, and not at start, and the ratio would still be above the goal.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from django.conf import settings

from tests.benchmarks.measuring import Pairs, Run, Work, benchmark

# A server starts from modules compiled before; those here are compiled in the run that warms up.
NOT_IN_SERVICE = ("DATABASE_URL", "PYTHONDONTWRITEBYTECODE")
OURS = ("fleet", "ratings", "inspections")
MANAGE = """import os, sys
os.environ["DJANGO_SETTINGS_MODULE"] = "empty_settings"
from django.core.management import execute_from_command_line
execute_from_command_line(sys.argv)
"""


@benchmark(
    "start",
    "manage.py check, to that of an empty Django project with the same third-party apps",
    goal=1.3,
    sides=("ours", "an empty project"),
)
def start(run: Run) -> Pairs:
    with TemporaryDirectory(prefix="empty-") as folder:
        empty = Path(folder)
        (empty / "manage.py").write_text(MANAGE)
        (empty / "empty_urls.py").write_text("urlpatterns = []\n")
        (empty / "empty_settings.py").write_text(_settings_of_an_empty_project(empty))
        return run.paired(
            _checked(Path(settings.BASE_DIR), empty / "compiled"),
            _checked(empty, empty / "compiled"),
        )


def _settings_of_an_empty_project(folder: Path) -> str:
    def of_others(names: list[str]) -> list[str]:
        return [name for name in names if name.split(".")[0] not in OURS]

    given = {
        "SECRET_KEY": "of nothing",
        "INSTALLED_APPS": of_others(settings.INSTALLED_APPS),
        "MIDDLEWARE": of_others(settings.MIDDLEWARE),
        "ROOT_URLCONF": "empty_urls",
        "STATIC_URL": "static/",
        "DATABASES": {
            "default": {"ENGINE": "django.db.backends.sqlite3", "NAME": str(folder / "empty")}
        },
        "TEMPLATES": [
            {"BACKEND": "django.template.backends.django.DjangoTemplates", "APP_DIRS": True}
        ],
        "DEFAULT_AUTO_FIELD": settings.DEFAULT_AUTO_FIELD,
    }
    return "".join(f"{name} = {value!r}\n" for name, value in given.items())


def _checked(folder: Path, compiled: Path) -> Work:
    kept = {name: value for name, value in os.environ.items() if name not in NOT_IN_SERVICE}

    def work() -> None:
        done = subprocess.run(
            [sys.executable, "manage.py", "check"],
            cwd=folder,
            env=kept | {"PYTHONPYCACHEPREFIX": str(compiled)},
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            raise RuntimeError(done.stderr)

    return work
