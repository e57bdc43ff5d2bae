"""What all commands share: finding the archive, errors as sentences, JSON documents."""

from __future__ import annotations

import json
import tempfile
import traceback
from collections.abc import Callable, Mapping
from functools import partial, update_wrapper
from pathlib import Path
from typing import Any, Concatenate, NoReturn, ParamSpec, TypeVar

import click

from archive.errors import NOT_OUR_FAULT, NotAccepted, RivetbookError, what_is_wrong
from archive.records.archive import Archive, open_archive
from archive.records.folder import locate

P = ParamSpec("P")
R = TypeVar("R")

_LOOKS = "archive.cli.door.looks"  # of a command that changes nothing
DONE_WITH_DOUBTS = 3  # exit status: done, but some files were left out or are doubtful


class BookGroup(click.Group):
    """A group of commands whose errors become sentences, in this one place."""

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands, each with the whole first sentence of its help."""
        commands = ((name, self.get_command(ctx, name)) for name in self.list_commands(ctx))
        rows = [(name, command.get_short_help_str(limit=1000)) for name, command in commands if command]
        with formatter.section("Commands"):
            formatter.write_dl(rows)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; turns a `RivetbookError` into its message and exit status, a bug into a short note."""
        try:
            return super().invoke(ctx)
        except RivetbookError as error:
            click.echo(what_is_wrong(str(error)) if ctx.meta.get(_LOOKS) else str(error), err=True)
            ctx.exit(error.exit_status)
        except click.NoSuchOption as error:
            if not error.option_name[1:2].isdigit():
                raise
            raise click.UsageError(
                f"'{error.option_name}' begins like an option. If it is a figure: none here is below zero, leave the minus sign off.",
                error.ctx,
            ) from None
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except BrokenPipeError:
            raise  # the reader of our output went away (`rivetbook photos | head`); click ends quietly
        except KeyboardInterrupt:
            click.echo("Stopped. What was saved before is kept.", err=True)
            ctx.exit(1)
        except OSError as error:
            if error.errno not in NOT_OUR_FAULT:
                _note_bug(ctx)
            what = f"'{error.filename}' cannot be used" if error.filename else "Rivetbook cannot go on"
            click.echo(f"{what}: {error.strerror}. What was saved before is as it was.", err=True)
            ctx.exit(1)
        except Exception:
            _note_bug(ctx)


def _note_bug(ctx: click.Context) -> NoReturn:
    with tempfile.NamedTemporaryFile(
        "w", prefix="rivetbook-fault-", suffix=".txt", delete=False, encoding="utf-8", errors="replace"
    ) as log:
        traceback.print_exc(file=log)
    click.echo(
        "Rivetbook made a mistake of its own and stopped. What was saved before is as it was. "
        f"What happened is written in '{log.name}': please send it with a word on what you did.",
        err=True,
    )
    ctx.exit(1)


def pass_archive(command: Callable[Concatenate[Archive, P], R], *, looks: bool = False) -> Callable[P, R]:
    """Open the archive, hand it to the command, close it after; gives the command an --archive of its own.

    One that only `looks` is not told, where it is refused, that nothing was changed.
    """

    @click.option("--archive", "archive_folder", metavar="FOLDER", help="The archive to work in.")
    def opened(*args: P.args, **kwargs: P.kwargs) -> R:
        ctx = click.get_current_context()
        ctx.meta[_LOOKS] = looks
        _refuse_options_left_empty(ctx)
        named = kwargs.pop("archive_folder") or ctx.find_root().obj
        archive = open_archive(locate(Path(str(named)) if named else None), door="command line")
        if archive.set_aside is not None:
            kept = archive.set_aside.relative_to(archive.folder)
            click.echo(
                f"This archive was brought up to date; its records from before are in '{kept}'.", err=True
            )
        for notice in archive.notices:
            click.echo(notice, err=True)
        ctx.call_on_close(archive.close)
        if not kwargs.get("as_json_"):
            ctx.call_on_close(lambda: _tell_what_followed(archive))
        return command(archive, *args, **kwargs)

    return update_wrapper(opened, command)


def pass_archive_to_look(command: Callable[Concatenate[Archive, P], R]) -> Callable[P, R]:
    """Hand the archive to a command that changes nothing in it."""
    return pass_archive(command, looks=True)


class _Fact(click.Option):
    """A fact that "" takes away again."""


fact_option = partial(click.option, cls=_Fact)


def _refuse_options_left_empty(ctx: click.Context) -> None:
    """A script whose variable is empty, or a slip of the fingers, must not pass for an option that was left off."""
    for each in (ctx.find_root(), ctx):
        for option in each.command.params:
            blank = _some_blank(each.params.get(option.name or ""))
            if isinstance(option, click.Option) and not isinstance(option, _Fact) and blank:
                name, meant = max(option.opts, key=len), option.help or ""
                or_not = "" if option.required else " Or leave it off."
                raise NotAccepted(
                    f"'{name}' was left empty", f"Write after it: {meant[:1].lower()}{meant[1:]}{or_not}"
                )


def _some_blank(given: object) -> bool:
    if isinstance(given, tuple):
        return any(_some_blank(each) for each in given)
    return isinstance(given, str) and not given.strip()


def _tell_what_followed(archive: Archive) -> None:
    """Tell, after the answer, of worked-out sizes that the command has changed on its way."""
    if archive.followed:
        from archive.dimensions.following import what_followed

        for sentence in what_followed(archive):
            click.echo(sentence)


class WholeNumber(click.IntRange):
    """A whole number between two; click's own refusal speaks of an 'integer range'."""

    name = "whole number"


class Number(click.types.FloatParamType):
    """A number; click's own refusal speaks of a 'float'."""

    name = "number"


json_option = click.option("--json", "as_json_", is_flag=True, help="Answer as one JSON document.")


def show_json(document: Mapping[str, Any]) -> None:
    """Print a JSON document: format 1, UTF-8 letters as they are, unknown as null."""
    click.echo(json.dumps({"format": 1, **document}, ensure_ascii=False, indent=2, default=_plain))


def _plain(value: Any) -> Any:
    if hasattr(value, "__dataclass_fields__"):
        return {name: getattr(value, name) for name in value.__dataclass_fields__}
    return str(value)
