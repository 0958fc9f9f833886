"""The program: its commands, and what becomes of every way a command can end.

Whatever ends a command early is told to the person, or with ``--json`` to the program that asked.
"""

from __future__ import annotations

import gc
import os
import re
import shutil
import signal
import sys
import threading
import time
import traceback
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any, NoReturn

import click
from click.shell_completion import shell_complete

from deskmend.cli import output
from deskmend.cli.allocate import allocate_command
from deskmend.cli.casebook import casebook_command
from deskmend.cli.catalog import catalog_command, check_command, prices_command
from deskmend.cli.measure import measure_command, new_command, open_command
from deskmend.cli.output import emit_document
from deskmend.cli.plan import assess_command, compare_command, plan_command, report_command
from deskmend.errors import Fault, InputFaults, did_you_mean, nearest, option_fault, visible
from deskmend.language import measuring, reading

_VALUE = re.compile(r"(.+?) is not (?:in the range|one of|a valid)", re.DOTALL)
"""How the library that reads the command line begins to refuse a value; only the value is taken from it."""


COMPLETE = "_DESKMEND_COMPLETE"
"""Set by a shell that asks what could come next, as click writes it."""
FILE_WORDS, FOLDER_WORDS = {"FILE", "CASE", "APPLICANTS", "PICTURE"}, {"DIR", "FOLDER"}
"""Words in what a command asks for that stand for a file or a folder."""


def _tell_faults(faults: Sequence[Fault], as_json: bool) -> int:
    """Show all faults; gives the exit code."""
    from deskmend.report.documents import faults_document, faults_text

    if as_json:
        emit_document(faults_document(faults))
    else:
        output.tell(faults_text(faults))
    return output.BAD_INPUT


def _tell_usage(error: click.UsageError, as_json: bool) -> int:
    """Show what is wrong with the arguments as a fault of the command line; gives the exit code."""
    where, read, allowed = "", None, error.format_message()
    if isinstance(error, click.BadParameter):
        name = error.param.name if error.param is not None else None
        where = str(error.param_hint or (_written(error.param) if name else "")).strip("'\"")
        allowed = error.message
    if isinstance(error, click.MissingParameter):
        allowed = f"a value for {where or 'it'}"
        fault = option_fault(where, None, allowed, _help_hint(error))
    elif isinstance(error, click.BadParameter) and (told := _refused(error)) is not None:
        fault = option_fault(where, *told)
    elif isinstance(error, click.NoSuchOption):
        words = {one.lstrip("-"): one for one in error.possibilities or ()}
        near = nearest(error.option_name.lstrip("-"), words)
        hint = _help_hint(error) if near is None else f"did you mean {visible(words[near])}?"
        fault = option_fault("", error.option_name, "an option of this command", hint)
    else:
        fault = option_fault(where, read, "", _help_hint(error), note=_sentence(allowed))
    return _tell_faults([fault], as_json)


def _refused(error: click.BadParameter) -> tuple[str, str] | None:
    """Text read and what is allowed, where a value is out of range or no such word; None for other faults."""
    found = _VALUE.match(error.message)
    kind = error.param.type if error.param is not None else None
    if found is None or kind is None:
        return None
    read = found[1].strip("'\"")
    if isinstance(kind, click.Choice):
        return read, ", ".join(str(one) for one in kind.choices)
    if isinstance(kind, click.IntRange):
        return read, f"whole numbers {kind.min} to {kind.max}"
    if isinstance(kind, click.FloatRange):
        above = f"over {kind.min:.10g}" if kind.min_open else f"from {kind.min:.10g}"
        return read, f"numbers {above}, at most {kind.max:.10g}"
    return None


def _written(parameter: click.Parameter | None) -> str:
    if parameter is None:
        return ""
    return parameter.opts[0] if isinstance(parameter, click.Option) else parameter.human_readable_name


def _help_hint(error: click.UsageError) -> str:
    path = error.ctx.command_path if error.ctx is not None else "deskmend"
    return f"see {path} --help"


def _sentence(text: str) -> str:
    plain = visible(text.rstrip("."), 300)
    return plain[:1].lower() + plain[1:]


def _tell_error(error: Exception, as_json: bool) -> int | None:
    """Show faults of the input or that there is no plan; None where the error is neither."""
    if isinstance(error, InputFaults):
        return _tell_faults(error.faults, as_json)
    from deskmend.planning.plan import NoPlan

    if not isinstance(error, NoPlan):
        return None
    from deskmend.report.documents import failure_document, failure_text

    code = output.NOT_PROVEN if error.timed_out else output.NO_PLAN
    if as_json:
        emit_document(failure_document(code, error.hinders, error.would_help, error.signs))
    else:
        output.tell(failure_text(error.hinders, error.would_help, error.signs))
    return code


def _tell_defect(error: Exception, as_json: bool) -> int:
    """Show that deskmend itself failed; gives the exit code."""
    what = visible(f"{type(error).__name__}: {error}".splitlines()[0], 300)
    would_help = "please report it with the command and the files; DESKMEND_DEBUG=1 shows where it happened"
    output.tell(f"deskmend failed, and the fault is ours ({what}); {would_help}")
    if as_json:
        from deskmend.report.documents import failure_document

        emit_document(failure_document(output.DEFECT, f"a defect of deskmend: {what}", would_help))
    return output.DEFECT


DEBUG = "DESKMEND_DEBUG"
"""Environment variable that shows tracebacks of defects when it is 1."""


class Program(click.Group):
    """The group of all commands; turns every ending into an exit code, and never shows a traceback."""

    def resolve_command(self, ctx: click.Context, args: list[str]) -> Any:
        """Find a command, and tell the nearest one where there is none of that name."""
        if args and args[0] not in self.commands and not args[0].startswith("-"):
            hint = did_you_mean(args[0], self.commands)
            known = ", ".join(self.list_commands(ctx))
            raise click.BadParameter(
                f"allowed {known}" + (f"; {hint}" if hint else ""), ctx=ctx, param_hint=args[0]
            )
        return super().resolve_command(ctx, args)

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        windows_expand_args: bool = True,
        **extra: Any,
    ) -> NoReturn:
        """Run a command and leave with its exit code; what click hands over besides is of no matter here."""
        del prog_name, complete_var, standalone_mode, windows_expand_args
        if asked := os.environ.get(COMPLETE):
            _name_files(self)
            sys.exit(shell_complete(self, extra, "deskmend", COMPLETE, asked))
        given = list(sys.argv[1:] if args is None else args)
        with reading(), measuring(), _ended_like_an_interrupt():
            code = self._run(given, extra)
        sys.exit(code)

    def _run(self, args: list[str], extra: dict[str, Any]) -> int:
        as_json = "--json" in args
        try:
            # help is set for the window, and the same everywhere where there is none
            extra.setdefault("terminal_width", _help_width())
            with self.make_context("deskmend", list(args), **extra) as context:
                code = self.invoke(context)
            sys.stdout.flush()
            return code if isinstance(code, int) else output.DONE
        except click.exceptions.Exit as ending:
            return ending.exit_code
        except (KeyboardInterrupt, click.Abort):
            return output.INTERRUPTED
        except Exception as error:
            return _report(error, as_json)


def _name_files(group: click.Group) -> None:
    """Let a shell fill in names of files and folders wherever one is to be given."""
    for command in group.commands.values():
        if isinstance(command, click.Group):
            _name_files(command)
        for one in command.params:
            words = set(re.findall(r"[A-Z]+", one.metavar or ""))
            if words & FILE_WORDS:
                one.type = click.Path()
            elif words & FOLDER_WORDS:
                one.type = click.Path(file_okay=False)


SAME_REQUEST = 5.0
"""Seconds within which a second request to end is the same one: some ask the process and its group."""


@contextmanager
def _ended_like_an_interrupt() -> Iterator[None]:
    """Let a request to end (SIGTERM) do what Ctrl-C does, so that the best so far is not thrown away."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    heard = -SAME_REQUEST

    def interrupt(*_: object) -> None:
        nonlocal heard
        before, heard = heard, time.monotonic()
        if heard - before >= SAME_REQUEST:
            raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, interrupt)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def _help_width() -> int:
    from deskmend.report.layout import WIDTH, width_in

    return width_in(shutil.get_terminal_size().columns) if sys.stdout.isatty() else WIDTH


def _report(error: Exception, as_json: bool) -> int:
    """Tell what became of a command; that nobody reads it any more is no further error."""
    try:
        if isinstance(error, BrokenPipeError):
            return _closed()
        if isinstance(error, click.UsageError):
            return _tell_usage(error, as_json)
        if os.environ.get(DEBUG) == "1":
            traceback.print_exception(error)
        known = _tell_error(error, as_json)
        return _tell_defect(error, as_json) if known is None else known
    except BrokenPipeError:
        return _closed()


def _closed() -> int:
    """Give stdout somewhere to go, so that the interpreter's last flush stays silent."""
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (OSError, ValueError):
        pass
    return output.CLOSED


@click.group(
    cls=Program,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Every command has its own help: deskmend COMMAND --help",
)
@click.option("--version", is_flag=True, help="Show the version and leave.")
@click.pass_context
def deskmend(context: click.Context, version: bool) -> None:
    """Find which low-cost fixes take most strain off a workplace for the money, time and skill at hand.

    It counts exposure: hours a day spent outside comfortable limits. It makes no claim about pain or injury.
    """
    if version:
        from deskmend import __version__

        click.echo(f"deskmend {__version__}")
        context.exit()
    if context.invoked_subcommand is None:
        click.echo(context.get_help())


for _command in (
    new_command,
    open_command,
    measure_command,
    check_command,
    assess_command,
    plan_command,
    compare_command,
    report_command,
    allocate_command,
    casebook_command,
    catalog_command,
    prices_command,
):
    deskmend.add_command(_command)


RINGS = (10_000, 20, 50)
"""When commands look for rings of records: seldom, for they make many records and next to no rings."""


def main() -> NoReturn:
    """Run the program on the arguments of the process."""
    gc.set_threshold(*RINGS)
    deskmend.main()
