"""`cakewright people`: who may look, enter and administer in a team's workbench."""

from __future__ import annotations

import click

from cakewright.cli.backup import _STORE, _address

__all__ = ["command"]


@click.group("people")
def command() -> None:
    """People of a team: let in with a role and a token that ends, shut out, listed."""


@command.command("add")
@click.argument("name")
@click.option("--role", type=click.Choice(("look", "enter", "administer")), default="enter")
@click.option("--days", type=click.IntRange(1, 730), default=90, show_default=True)
@_STORE
def add(name: str, role: str, days: int, store: str | None) -> None:
    """Let NAME in, or give NAME a new token in place of the old one."""
    from cakewright.storage.store import open_engine
    from cakewright.storage.store.people import Role, add_person

    engine = open_engine(_address(store))
    token = add_person(engine, name, Role(role), days)
    engine.dispose()
    click.echo(f"{name} may {role} for {days} days. The token is shown only now:\n{token}")
    click.echo("It is opened as ADDRESS/?token=TOKEN, or sent as `Authorization: Bearer TOKEN`.")


@command.command("end")
@click.argument("name")
@_STORE
def end(name: str, store: str | None) -> None:
    """Shut NAME out at once; the name stays on what was done."""
    from cakewright.storage.store import open_engine
    from cakewright.storage.store.people import end_person

    engine = open_engine(_address(store))
    end_person(engine, name)
    engine.dispose()
    click.echo(f"{name} is shut out.")


@command.command("list")
@_STORE
def everybody(store: str | None) -> None:
    """Everybody with role and end, then the last acts beside edits."""
    from cakewright.storage.store import open_engine
    from cakewright.storage.store.people import persons, trail

    engine = open_engine(_address(store))
    for person in persons(engine):
        state = f"until {person.expires:%Y-%m-%d}" if person.good else "shut out or expired"
        click.echo(f"{person.name}: {person.role}, {state}")
    for act in trail(engine, 20):
        click.echo(
            f"  {act.at:%Y-%m-%d %H:%M} {act.who}: {act.act} {act.study} {act.what}".rstrip()
        )
    engine.dispose()
