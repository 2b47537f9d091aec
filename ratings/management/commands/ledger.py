from __future__ import annotations

from argparse import ArgumentParser
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError

from fleet.journal.sequence import give_places
from fleet.management.record_command import RecordCommand, manager_who_signs
from ratings.ledger.posting import post_stale_rates
from ratings.models import JobAnswer, LedgerEntry
from ratings.record.faults import Scope
from ratings.record.paper_now import PaperNow
from ratings.record.proofs import exported, proof_of_unit
from ratings.record.seals import NoSeal, SealText, make_seal, read_seal
from ratings.record.verify import Looked, parts, since_last_held, verify_record


@dataclass(frozen=True)
class Action:
    """What the command does by one word. says: of it, for whoever asks for help."""

    says: str
    takes: tuple[str, ...] = ()


ACTIONS = {
    "verify": Action(
        "Hold every record to the journal, and recompute every hash, every result from its "
        "inputs, and every answer. Ends with 1 where something does not hold.",
        takes=("--since", "--part", "--seal"),
    ),
    "seal": Action(
        "Print a short text of what the whole record comes to, to be kept elsewhere. Takes nothing "
        "more.",
    ),
    "export": Action(
        "Print the whole journal, a leaf to a line, each the very text that was hashed. Takes "
        "nothing more.",
    ),
    "prove": Action(
        "Print a proof that the last entry of a unit stands in the journal under a seal. Seals, "
        "exports and proofs are checked by ratings/check_record.py, alone and anywhere.",
        takes=("--unit",),
    ),
    "check-paper": Action(
        "Say of a paper (PDF) whether it is what was given out here, and still so. Ends with 0 "
        "where it is, 1 where it was altered or not given out here, 2 where that can't be told, 3 "
        "where it is what was given out and no longer so.",
        takes=("file",),
    ),
    "refresh": Action("Post an entry for each unit where a rate has gone stale.", ("--as",)),
}
# Where what is given is kept, unless it is called so.
KEPT_AS = {"--as": "username"}


class Command(RecordCommand):
    help = (
        "Verify the record, seal it, give out proofs of it, and keep its figures of today. Say "
        "which by a word; what goes with each stands below it. The one for every day: "
        "manage.py ledger verify."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("action", choices=list(ACTIONS), help="what to do, each told below")
        groups = {
            name: parser.add_argument_group(name, each.says) for name, each in ACTIONS.items()
        }
        groups["verify"].add_argument(
            "--since", action="store_true", help="only what was written since it last held"
        )
        groups["verify"].add_argument(
            "--part",
            action="append",
            default=[],
            choices=[part.name for part in parts()],
            help="this part alone; may be given several times",
        )
        groups["verify"].add_argument(
            "--seal",
            action="append",
            default=[],
            metavar="FILE",
            help="hold the record to this older seal too; may be given several times",
        )
        groups["prove"].add_argument("--unit", metavar="MARK", help="the mark of its housing")
        groups["check-paper"].add_argument("file", nargs="?", help="the paper, a PDF")
        groups["refresh"].add_argument(
            "--as", dest="username", metavar="USERNAME", help="who signs what is posted"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        self._refuse_what_goes_with_another(options)
        if options["action"] == "verify":
            self._verify(options["since"], options["part"], options["seal"])
        elif options["action"] == "seal":
            self.stdout.write(make_seal().text, ending="")
        elif options["action"] == "export":
            give_places()
            for leaf in exported():
                self.stdout.write(leaf)
        elif options["action"] == "prove":
            self._prove(options["unit"])
        elif options["action"] == "check-paper":
            self._check_paper(options["file"])
        else:
            self._refresh(options["username"])

    def _refuse_what_goes_with_another(self, options: dict[str, Any]) -> None:
        """Let nobody take a word for heeded that the action asked for does nothing with."""
        for name, action in ACTIONS.items():
            for word in action.takes if name != options["action"] else ():
                given = options[KEPT_AS.get(word, word.removeprefix("--"))]
                if given:
                    said = word if word.startswith("--") else given
                    raise CommandError(
                        f"{said} goes with {name}, and {options['action']} does nothing with it: "
                        "leave it out."
                    )

    def _verify(self, since: bool, only: list[str], files: list[str]) -> None:
        if files and (since or only):
            raise CommandError(
                "--seal is given with --since or --part: an older seal is held to the whole "
                "record, so give --seal alone."
            )
        scope = since_last_held() if since else Scope()
        scope = Scope(scope.since, scope.since_root, tuple(map(_seal_in, files)))
        done: list[Looked] = []
        for looked in verify_record(scope, only):
            if looked.is_done:
                done.append(looked)
                if not looked.faults:
                    self.stdout.write(f"{looked.part.name}: {looked.part.title}.")
        for looked in done:
            for fault in looked.faults:
                self.stderr.write(f"{looked.part.name}: {fault}")
        first = next((looked.faults[0] for looked in done if looked.faults), None)
        if first is not None:
            raise CommandError(f"The ledger does not hold: {first}.", returncode=1)
        if not only:
            self._say_all_holds()

    def _prove(self, mark: str | None) -> None:
        if not mark:
            raise CommandError("--unit is blank: give the mark of a housing, such as S-01.")
        try:
            self.stdout.write(proof_of_unit(mark))
        except LookupError as trouble:
            raise CommandError(f"--unit {mark}: {trouble.args[0]}.") from trouble

    def _check_paper(self, file: str | None) -> None:
        # Imported on need: no other action waits for the PDF library.
        from ratings.paper.check_file import Unreadable, Verdict, check_file

        if not file:
            raise CommandError(
                "Give the file of a paper: ledger check-paper FILE.pdf", returncode=2
            )
        try:
            checked = check_file(Path(file))
        except Unreadable as trouble:
            raise CommandError(f"Can’t tell of {file}: {trouble}.", returncode=2) from trouble
        for fault in checked.faults:
            self.stderr.write(f"- {fault}.")
        if checked.verdict is Verdict.ALTERED:
            raise CommandError(
                f"No: {file} is not what was given out here. First: {checked.faults[0]}.",
                returncode=1,
            )
        if checked.now is not None:
            self._tell(checked.now)
        if checked.verdict is Verdict.NO_LONGER_SO:
            raise CommandError(
                f"{file} is what was given out, and no longer so.", returncode=checked.verdict
            )
        if checked.verdict is Verdict.CANNOT_TELL:
            raise CommandError(
                f"{file} is what was given out; its figures may change within a minute: ask again.",
                returncode=checked.verdict,
            )
        self.stdout.write(f"Yes: {file} is, byte by byte, what was given out here.")

    def _tell(self, now: PaperNow) -> None:
        """Tell what a paper states and what came since, as the page of its code does."""
        self.stdout.write(f"{now.contents['title']}: {now.word}. {now.made_words}")
        for name, words in now.figures:
            self.stdout.write(f"  {name}: {words}")
        for words in (*now.reasons, *(each.words for each in now.since)):
            self.stdout.write(f"  {words}")

    def _say_all_holds(self) -> None:
        entries = LedgerEntry.objects.count()
        housings = LedgerEntry.objects.order_by().values("housing").distinct().count()
        self.stdout.write(
            f"{entries} entries of {housings} housings hold: every hash and every result."
        )
        answers = JobAnswer.objects.count()
        self.stdout.write(f"{answers} answers given to jobs hold: every hash and every verdict.")

    def _refresh(self, username: str | None) -> None:
        posted = post_stale_rates(manager_who_signs(username))
        if not posted:
            self.stdout.write("Nothing to post: no figure is other than the ledger has it.")
            return
        self.stdout.write(f"{len(posted)} ledger entr{'y' if len(posted) == 1 else 'ies'} posted.")


def _seal_in(file: str) -> SealText:
    try:
        return read_seal(Path(file).read_bytes().decode())
    except OSError as trouble:
        raise CommandError(f"--seal {file} can’t be opened: {trouble.strerror}.") from trouble
    except (UnicodeDecodeError, NoSeal) as trouble:
        raise CommandError(f"--seal {file} is no seal: {trouble}.") from trouble
