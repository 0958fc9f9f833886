"""Telling a person or a program that a command did not come to its end."""

from __future__ import annotations

import re
from collections.abc import Sequence

import click

from deskmend.cli import exit_codes
from deskmend.cli.output import emit_document
from deskmend.errors import Fault, InputFaults, nearest, visible

__all__ = ["report_defect", "report_error", "report_faults", "report_usage"]

COMMAND_LINE = "command line"

_VALUE = re.compile(r"(.+?) is not (?:in the range|one of|a valid)", re.DOTALL)
"""How the library that reads the command line begins to refuse a value; only the value is taken from it."""


def report_faults(faults: Sequence[Fault], as_json: bool) -> int:
    """Show all faults; gives the exit code."""
    from deskmend.report.failures import faults_document, faults_text

    if as_json:
        emit_document(faults_document(faults))
    else:
        click.echo(faults_text(faults), err=True, nl=False)
    return exit_codes.BAD_INPUT


def report_usage(error: click.UsageError, as_json: bool) -> int:
    """Show what is wrong with the arguments as a fault of the command line; gives the exit code."""
    where, read, allowed = "", None, error.format_message()
    if isinstance(error, click.BadParameter):
        name = error.param.name if error.param is not None else None
        where = str(error.param_hint or (_written(error.param) if name else "")).strip("'\"")
        allowed = error.message
    if isinstance(error, click.MissingParameter):
        allowed = f"a value for {where or 'it'}"
        fault = Fault(COMMAND_LINE, None, where, None, allowed, _help_hint(error))
    elif isinstance(error, click.BadParameter) and (told := _refused(error)) is not None:
        fault = Fault(COMMAND_LINE, None, where, *told)
    elif isinstance(error, click.NoSuchOption):
        words = {one.lstrip("-"): one for one in error.possibilities or ()}
        near = nearest(error.option_name.lstrip("-"), words)
        hint = _help_hint(error) if near is None else f"did you mean {visible(words[near])}?"
        fault = Fault(COMMAND_LINE, None, "", error.option_name, "an option of this command", hint)
    else:
        fault = Fault(COMMAND_LINE, None, where, read, "", _help_hint(error), note=_sentence(allowed))
    return report_faults([fault], as_json)


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


def report_error(error: Exception, as_json: bool) -> int | None:
    """Show faults of the input or that there is no plan; None where the error is neither."""
    if isinstance(error, InputFaults):
        return report_faults(error.faults, as_json)
    from deskmend.planning.plan import NoPlan

    if not isinstance(error, NoPlan):
        return None
    from deskmend.report.failures import failure_document, failure_text

    code = exit_codes.NOT_PROVEN if error.timed_out else exit_codes.NO_PLAN
    if as_json:
        emit_document(failure_document(code, error.hinders, error.would_help))
    else:
        click.echo(failure_text(error.hinders, error.would_help), err=True, nl=False)
    return code


def report_defect(error: Exception, as_json: bool) -> int:
    """Show that deskmend itself failed; gives the exit code."""
    what = visible(f"{type(error).__name__}: {error}".splitlines()[0], 300)
    would_help = "please report it with the command and the files; DESKMEND_DEBUG=1 shows where it happened"
    click.echo(f"deskmend failed, and the fault is ours ({what}); {would_help}", err=True)
    if as_json:
        from deskmend.report.failures import failure_document

        emit_document(failure_document(exit_codes.DEFECT, f"a defect of deskmend: {what}", would_help))
    return exit_codes.DEFECT
