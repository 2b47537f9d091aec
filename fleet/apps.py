from __future__ import annotations

import gc

from django.apps import AppConfig
from django.contrib.auth.signals import user_logged_in, user_logged_out, user_login_failed
from django.db.models.signals import post_migrate, post_save, pre_migrate

# So many new objects there may be before Python looks which are rubbish. Its own 700 are there
# every hundred rows read, and looking through all that is held took up to a third of a long list.
NEW_OBJECTS = 10_000


class FleetConfig(AppConfig):
    name = "fleet"
    verbose_name = "Fleet"

    def ready(self) -> None:
        from axes.signals import user_locked_out
        from django.contrib.auth.models import User

        from fleet import sign_ins, signers
        from fleet.journal import adoption
        from fleet.people import locks, middleware
        from fleet.roles import ensure_roles

        gc.set_threshold(NEW_OBJECTS)
        pre_migrate.connect(adoption.before_migrating, sender=self, dispatch_uid="fleet.journal")
        # Before anything is written: beside a leaf of today no row is taken for older.
        post_migrate.connect(adoption.after_migrating, sender=self, dispatch_uid="fleet.journal")
        # Permissions exist only once every app has migrated, so the groups that hold
        # them are made then, and again after a test has emptied the database.
        post_migrate.connect(ensure_roles, sender=self, dispatch_uid="fleet.roles")
        user_logged_in.connect(middleware.count_the_month, dispatch_uid="fleet.month")
        user_logged_in.connect(middleware.note_second_step, dispatch_uid="fleet.second-step")
        user_logged_in.connect(sign_ins.keep_sign_in, dispatch_uid="fleet.sign-in")
        user_logged_out.connect(sign_ins.keep_sign_out, dispatch_uid="fleet.sign-out")
        user_login_failed.connect(sign_ins.keep_failure, dispatch_uid="fleet.no-sign-in")
        user_locked_out.connect(locks.keep_lock, dispatch_uid="fleet.locked-out")
        # Whatever way a name comes to be changed: a page, the console, a command of Django's own.
        post_save.connect(signers.keep_name, sender=User, dispatch_uid="fleet.names")
