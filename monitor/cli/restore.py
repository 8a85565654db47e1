"""`restore` brings a site back from one of its copies: shown, asked, put in place whole, looked over."""

from __future__ import annotations

import getpass
import os
import time
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer
from pydantic import SecretStr

from monitor.cli.running import only_service
from monitor.copies import targets
from monitor.copies.placing import placing
from monitor.copies.restore import Contents, Restoration, Restored
from monitor.copies.source import Source, source_at, source_in
from monitor.errors import CopyError, MonitorError, SettingsError, UsageError
from monitor.records import MS_PER_DAY
from monitor.settings.loading import FILE_NAME, find
from monitor.settings.schema import CopyPlace
from monitor.settings.writing import give_to_owner
from monitor.store import Store
from monitor.terminal.context import (
    ConfigOption,
    clock_ms,
    command_words,
    speak,
    terminal_words,
    with_options,
)
from monitor.terminal.output import ExitCode, at_terminal, complain, is_wanted, progress_bar, report, say
from monitor.words.localizer import Localizer

TRIES = 3
BEFORE_DAYS = 31
"""Own choice: what boards and loggers brought in late, after the copy, is as a rule no older."""
AHEAD_DAYS = 2
PAUSES_S = (2.0, 10.0)
"""Before an archive that does not answer is asked again: somebody sits there and waits."""
SHOWN = 12
_EXAMPLES = (
    "Examples: [bold]rearing-monitor restore /media/stick/rearing[/bold]\n\n"
    "[bold]rearing-monitor restore sftp://copies.example/rearing --username rearing[/bold]"
)

SourceArgument = Annotated[
    str,
    typer.Argument(
        metavar="SOURCE",
        help="Where the copies are: a folder, an address (sftp://, s3://, webdav://), one copy in it, or a "
        "database file that was copied.",
    ),
]
CopyOption = Annotated[
    str, typer.Option("--copy", metavar="NAME", help="Which of its copies. Without it: the newest.")
]
YesOption = Annotated[bool, typer.Option("--yes", "-y", help="Put it in place without a question.")]
PassphraseOption = Annotated[
    Path | None,
    typer.Option(
        "--passphrase-file",
        metavar="FILE",
        help="The file with the passphrase that opens the secrets in the copy. Without it: you are asked.",
    ),
]
EverythingOption = Annotated[
    bool,
    typer.Option(
        "--everything",
        help="Take settings and keys from the copy too, though this computer has its own; those are kept.",
    ),
]
UserOption = Annotated[
    str, typer.Option("--username", metavar="NAME", help="User name at an address, or id of the key for S3.")
]
PasswordOption = Annotated[
    Path | None,
    typer.Option("--password-file", metavar="FILE", help="The file with the password at an address."),
]
PlaceOption = Annotated[
    list[str] | None,
    typer.Option(
        "--option",
        metavar="KEY=VALUE",
        help="What else an address needs, as options of the copies in the settings.",
    ),
]


@dataclass(frozen=True, slots=True)
class SourceOptions:
    """Where the copy is, and what opens it."""

    source: SourceArgument = ""
    copy: CopyOption = ""
    username: UserOption = ""
    password_file: PasswordOption = None
    option: PlaceOption = None
    passphrase_file: PassphraseOption = None
    config: ConfigOption = None

    def found(self) -> Source:
        """The copy that is meant."""
        if "://" not in self.source:
            return source_at(self.source, self.copy, clock_ms())
        password = None if self.password_file is None else SecretStr(_secret(self.password_file))
        address, name = self.source.rstrip("/"), self.copy
        head, _, last = address.rpartition("/")
        if not name and targets.CopyName.parsed(last) is not None:
            address, name = head, last
        options: dict[str, str | int | float | bool] = dict(map(_pair, self.option or ()))
        place = CopyPlace(
            id="given", url=address, username=self.username or None, password=password, options=options
        )
        return source_in(targets.target_of(place, None), name, clock_ms())


def register(app: typer.Typer) -> None:
    """Add the command of this module."""
    app.command("restore", epilog=_EXAMPLES)(restore)


@with_options
def restore(
    options: SourceOptions,
    yes: YesOption = False,
    everything: EverythingOption = False,
) -> None:
    """Bring the farm back from a copy, also onto a bare computer: database, settings, photos, keys.

    Shows what is in the copy and asks. Everything gets into its place, or nothing does;
    what was there is kept beside it. Readings since the copy come from the archive,
    where there is one. Ends with `check` and `send-test`.
    """
    if not options.source:
        raise UsageError(
            "where is the copy? Name the folder or address of the copies, such as: {example}",
            example="rearing-monitor restore /media/stick/rearing",
        )
    path = _settings_file(options.config)
    done = _brought_back(options, path, yes, everything)
    speak(done.settings.site.language)
    words = command_words(done.settings)
    filled = _fill(done, words)
    complete = _say_missing(done, words)
    fine = _look_over(path, yes, words)
    _say_next(done, path, words)
    if not (filled and complete and fine):
        raise typer.Exit(ExitCode.SOMETHING_WRONG)


def _settings_file(config: Path | None) -> Path:
    """Where the settings are, or where they will be."""
    try:
        return find(config).absolute()
    except SettingsError:
        return (config or Path(FILE_NAME)).absolute()


def _secret(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "UTF-8"
        raise UsageError("{path} cannot be read: {why}", path=path, why=why) from None


def _pair(text: str) -> tuple[str, str]:
    key, sign, value = text.partition("=")
    if not sign or not key:
        raise UsageError("--option {given} is not KEY=VALUE", given=text)
    return key, value


def _brought_back(options: SourceOptions, path: Path, yes: bool, everything: bool) -> Restored:
    stamp, words = time.strftime("%Y%m%d-%H%M%S", time.gmtime()), terminal_words()
    with placing(path.parent, stamp) as place:
        restoration = Restoration(place, path, everything, os.environ)
        source = options.found()
        with progress_bar(words.t("restore.fetching")) as told:
            restoration.fetch(source, told)
        speak(restoration.settings.site.language)
        words = command_words(restoration.settings)
        restoration.bring_up_to_date()
        _unseal(restoration, options, words)
        _show(source, restoration.contents(clock_ms()), words)
        if not yes and not is_wanted(words.t("restore.sure", folder=str(path.parent))):
            say(words.t("restore.nothing"))
            raise typer.Exit(ExitCode.USAGE)
        with _alone(restoration.settings.store.path):
            done = restoration.put()
    _say_done(done, words)
    return done


@contextmanager
def _alone(database: Path) -> Iterator[None]:
    """No monitor runs on the database while it is replaced."""
    if not database.parent.is_dir():
        yield
        return
    with only_service(database):
        # Else the user of the service could not open what root has made here.
        give_to_owner(database.with_name(f"{database.name}.lock"), database.parent)
        yield


# Secrets.


def _unseal(restoration: Restoration, options: SourceOptions, words: Localizer) -> None:
    """Open the secrets of the copy, if there are any, with the passphrase that is known or given."""
    if not restoration.has_sealed:
        return
    if options.passphrase_file is not None:
        restoration.unseal(_secret(options.passphrase_file))
        return
    if restoration.known_passphrase:
        with suppress(CopyError):  # It may have been another on the day of this copy.
            restoration.unseal(restoration.known_passphrase)
            return
    tries = TRIES if at_terminal() else 0
    for _ in range(tries):
        given = getpass.getpass(words.t("restore.passphrase") + " ")
        if not given.strip():
            return
        try:
            restoration.unseal(given.strip())
        except CopyError as error:
            report(error, words)
        else:
            return


# What is said.


def _show(source: Source, found: Contents, words: Localizer) -> None:
    say(words.t("restore.copy", title=found.title, site=found.site), "heading")
    say("  " + words.t("restore.from", source=source.label))
    say("  " + words.t("restore.made", at=words.moment(found.made_at_ms)))
    if source.passed_over:
        names = _few(source.passed_over)
        say("  " + words.n("restore.passed_over", len(source.passed_over), names=names), "warning")
    until_ms = found.readings_until_ms
    if until_ms is None:
        say("  " + words.t("restore.no_readings"))
    else:
        length = words.length(max(0, words.now_ms - until_ms))
        say("  " + words.t("restore.until", at=words.moment(until_ms), length=length))
    names = ", ".join(found.cohorts[:SHOWN]) + (", …" if len(found.cohorts) > SHOWN else "")
    say("  " + words.n("restore.cohorts", len(found.cohorts), names=names))
    say("  " + words.n("restore.alarms", found.open_alarms))
    say("  " + words.n("restore.photos", found.photos))
    if found.missing_photos:
        say("  " + words.n("restore.photos_missing", found.missing_photos), "warning")
    kind = "opened" if found.is_unsealed else "closed" if found.has_sealed else "none"
    say("  " + words.t(f"restore.secrets_{kind}"), "" if found.is_unsealed else "warning")
    if found.outside:
        say("  " + words.t("restore.outside", folders=_few(found.outside)))


def _say_done(done: Restored, words: Localizer) -> None:
    say(words.t("restore.done", file=str(done.settings_file), database=str(done.settings.store.path)), "good")
    if done.moved_paths:
        say(words.t("restore.moved", keys=_few(done.moved_paths)))
    if done.kept:
        say(words.n("restore.kept", len(done.kept), files=_few(done.kept)))
    if done.left:
        say(words.n("restore.left", len(done.left), files=_few(done.left)))


def _few(paths: Sequence[Any]) -> str:
    return ", ".join(map(str, paths[:SHOWN])) + (", …" if len(paths) > SHOWN else "")


def _say_missing(done: Restored, words: Localizer) -> bool:
    """What a person has to do; whether that is nothing."""
    lines = []
    for key, names in (
        ("restore.give_files", done.secret_files),
        ("restore.give_keys", done.secret_keys),
        ("restore.give_variables", done.variables),
    ):
        if names:
            lines.append(words.t(key, names=_few(names)))
    if done.page_is_new and done.settings.page.enabled:
        lines.append(words.t("restore.page_is_new"))
    if done.missing_photos:
        lines.append(words.n("restore.photos_lost", len(done.missing_photos)))
    if done.boards_need_cards:
        lines.append(words.t("restore.boards_need_cards"))
    if lines:
        say()
        say(words.t("restore.missing"), "heading")
        for line in lines:
            say(f"  - {line}", "warning")
    return not lines


def _fill(done: Restored, words: Localizer) -> bool:
    """Take from the archive what the database lacks; whether that could be done."""
    from monitor.archive.access import access_of, open_reader
    from monitor.archive.fill import fill

    settings, newest_ms = done.settings, done.newest_reading_ms
    if settings.archive is None:
        return True
    since_ms = None if newest_ms is None else max(0, newest_ms - BEFORE_DAYS * MS_PER_DAY)
    # A new computer may not know the time yet, and the archive does.
    span_ms = (since_ms, max(words.now_ms, (newest_ms or 0) + AHEAD_DAYS * MS_PER_DAY) + 1)
    try:
        with (
            closing(open_reader(access_of(settings.archive))) as reader,
            Store.open(settings.store.path, create=False, check=False) as store,
            progress_bar(words.t("refill.bar")) as told,
        ):
            got = fill(store.database, reader, settings.site.id, *span_ms, told, PAUSES_S)
    except MonitorError as error:
        complain(words.t("restore.not_filled", why=words.error(error)), "warning")
        say(f"  rearing-monitor refill --config {done.settings_file}")
        return False
    if got.newest_ms is None:
        complain(words.t("refill.nothing", site=settings.site.id), "warning")
        return True
    of = words.n("export.sensors", got.sensors)
    say(words.n("refill.stored", got.stored, sensors=of, newest=words.moment(got.newest_ms)), "good")
    return True


def _look_over(path: Path, yes: bool, words: Localizer) -> bool:
    """`check`, and `send-test` where the settings are right; whether both found all well."""
    from monitor.cli.setup import check, send_test

    say()
    if not _was_fine(lambda: check(path, quiet=True), words):
        say(words.t("restore.test_later"))
        return False
    say(words.t("restore.checked", command=f"rearing-monitor check --config {path}"), "good")
    if yes or is_wanted(words.t("init.try_message")):
        return _was_fine(lambda: send_test("", path), words)
    return True


def _was_fine(command: Any, words: Localizer) -> bool:
    try:
        command()
    except typer.Exit as ended:
        return ended.exit_code == ExitCode.FINE
    except MonitorError as error:
        report(error, words)
        return False
    return True


def _say_next(done: Restored, path: Path, words: Localizer) -> None:
    broker = done.settings.broker
    option = "" if path == Path(FILE_NAME).absolute() else f" --config {path}"
    say()
    say(words.t("restore.next"), "heading")
    if broker.files is not None and done.is_bare and not done.boards_need_cards:
        say("  " + words.t("restore.next_broker", command=f"sudo rearing-monitor broker setup{option}"))
    if not done.boards_need_cards:
        names = ", ".join(broker.boards_hosts)
        key = "restore.next_boards_at" if names else "restore.next_boards"
        say("  " + words.t(key, names=names))
    say("  " + words.t("restore.next_run", command=f"rearing-monitor run{option}"))
