"""One module per command: parse, call one job, print.

Exit codes: 0 done; 1 the input is at fault (study, readings, logs); 2 wrong use of the command;
3 a result could not be written; 4 no answer exists for these inputs; 5 a bug, with its id.
"""

from __future__ import annotations

import importlib
import os
import sys

import click

from cakewright.errors import CakewrightError, InfeasibleError, OutputError
from cakewright.version import __version__

__all__ = ["COMMANDS", "group", "main"]

# name -> (module, or module.command; one line). The module is imported only when its command runs.
COMMANDS = {
    "evaluate": ("evaluate", "Choose, size, balance, compare and report one site's line."),
    "new": ("new", "Write a commented study to fill in."),
    "check": ("check", "Report every fault of a study at once."),
    "guarantee": ("guarantee", "What can be promised, and how many samples prove it."),
    "dossier": ("dossier", "Numbered documents of the whole line, for tender and review."),
    "offers": ("offers", "Bring bids to one basis: what compares, what does not, and why."),
    "portfolio": ("portfolio", "Evaluate a folder of studies at once and summarise them."),
    "bench": ("bench", "Fit bench tests into a sludge law; write sheets to fill in."),
    "calibrate": ("calibrate", "Learn a press's parameters from trial runs; rank the next run."),
    "backup": ("backup", "Write the whole store of studies into one file."),
    "verify": ("backup.verify", "Check a backup or the store itself."),
    "restore": ("backup.restore", "Put a backup into a new store."),
    "people": ("people", "Who may look, enter and administer in a team's workbench."),
    "serve": ("serve", "Open the workbench in a browser on this machine."),
    "commission": ("commission", "Plan and judge tuning runs and the acceptance test."),
    "listen": ("listen", "Record live plant data, read-only, for the watch."),
    "watch": ("watch", "Turn operating logs into a clean, explained record."),
    "learn": ("learn", "Carry a site's data into the machine's parameters."),
}


class LazyGroup(click.Group):
    """Commands that cost nothing until they are called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Commands in the order of the job."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command object, imported now."""
        if cmd_name not in COMMANDS:
            return None
        name, _, which = COMMANDS[cmd_name][0].partition(".")
        module = importlib.import_module(f"cakewright.cli.{name}")
        command = getattr(module, which or "command")
        if not isinstance(command, click.Command):
            raise TypeError(f"{cmd_name} is no command")
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """One line per command, without importing any."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="cakewright")
def group() -> None:
    """From a beaker of sludge to a dewatering line that is chosen, proved and kept running."""


def main() -> None:
    """Run the command line; errors the package raises on purpose become one message."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure:
            reconfigure(encoding="utf-8", errors="replace")
    try:
        group(standalone_mode=True)
    except OutputError as error:
        _stop(error, 3)
    except InfeasibleError as error:
        _stop(error, 4)
    except CakewrightError as error:
        _stop(error, 1)
    except MemoryError:
        click.echo("cakewright: this takes more memory than there is; give it less", err=True)
        sys.exit(1)
    except Exception as error:
        from cakewright.storage.bug_report import bug_words

        click.echo(f"cakewright: {bug_words(error)}", err=True)
        if os.environ.get("CAKEWRIGHT_TRACEBACK"):
            raise
        sys.exit(5)


def _stop(error: CakewrightError, code: int) -> None:
    click.echo(f"cakewright: {error}", err=True)
    sys.exit(code)
