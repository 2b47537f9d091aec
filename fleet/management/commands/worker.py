from __future__ import annotations

import signal
from argparse import ArgumentParser
from threading import Event
from typing import Any

from fleet.long_work.queue import do_all_there_is, serve
from fleet.management.record_command import RecordCommand


class Command(RecordCommand):
    help = (
        "Do long work as it comes: histories, sheets, registers. Several may run, on several "
        "machines. Where none runs, the site does such work itself. Ends, once the work in hand is "
        "done, at SIGTERM or Ctrl-C; killed, its work is taken up anew."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--once", action="store_true", help="do what waits, and end")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["once"]:
            many = do_all_there_is()
            self.stdout.write(f"{many} long work{'' if many == 1 else 's'} done.")
            return
        is_over = Event()
        for sort in (signal.SIGTERM, signal.SIGINT):
            signal.signal(sort, lambda *_: is_over.set())
        self.stdout.write("Waiting for long work.")
        serve(is_over)
