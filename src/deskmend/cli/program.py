"""The program: its commands, and what becomes of every way a command can end."""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Sequence
from typing import Any, NoReturn

import click

from deskmend.cli import exit_codes
from deskmend.cli.allocate_command import allocate_command
from deskmend.cli.assess_command import assess_command
from deskmend.cli.catalog_command import catalog_command
from deskmend.cli.check_command import check_command
from deskmend.cli.compare_command import compare_command
from deskmend.cli.failures import report_defect, report_error, report_usage
from deskmend.cli.new_command import new_command
from deskmend.cli.plan_command import plan_command
from deskmend.cli.prices_command import prices_command
from deskmend.cli.report_command import report_command
from deskmend.errors import did_you_mean
from deskmend.messages import reading
from deskmend.numerals import measuring

__all__ = ["Program", "deskmend", "main"]

HELP_WIDTH = 90
"""Width of help texts [characters]; fixed, so that help is the same in every window."""
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
        """Run a command and leave with its exit code.

        Parameters
        ----------
        args : sequence of str, optional
            Arguments; those of the process if left out.
        prog_name : str, optional
            Name shown in usage lines.
        complete_var, standalone_mode, windows_expand_args
            Taken as click hands them over; nothing here depends on them.
        **extra
            For the context.
        """
        given = list(sys.argv[1:] if args is None else args)
        with reading(), measuring():
            code = self._run(given, extra)
        sys.exit(code)

    def _run(self, args: list[str], extra: dict[str, Any]) -> int:
        as_json = "--json" in args
        try:
            with self.make_context("deskmend", list(args), **extra) as context:
                code = self.invoke(context)
            sys.stdout.flush()
            return code if isinstance(code, int) else exit_codes.DONE
        except click.exceptions.Exit as ending:
            return ending.exit_code
        except (KeyboardInterrupt, click.Abort):
            return exit_codes.INTERRUPTED
        except Exception as error:
            return _report(error, as_json)


def _report(error: Exception, as_json: bool) -> int:
    """Tell what became of a command; that nobody reads it any more is no further error."""
    try:
        if isinstance(error, BrokenPipeError):
            return _closed()
        if isinstance(error, click.UsageError):
            return report_usage(error, as_json)
        if os.environ.get(DEBUG) == "1":
            traceback.print_exception(error)
        known = report_error(error, as_json)
        return report_defect(error, as_json) if known is None else known
    except BrokenPipeError:
        return _closed()


def _closed() -> int:
    """Give stdout somewhere to go, so that the interpreter's last flush stays silent."""
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (OSError, ValueError):
        pass
    return exit_codes.CLOSED


@click.group(
    cls=Program,
    invoke_without_command=True,
    context_settings={"terminal_width": HELP_WIDTH, "help_option_names": ["-h", "--help"]},
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
    check_command,
    assess_command,
    plan_command,
    compare_command,
    report_command,
    allocate_command,
    catalog_command,
    prices_command,
):
    deskmend.add_command(_command)


def main() -> NoReturn:
    """Run the program on the arguments of the process."""
    deskmend.main()
