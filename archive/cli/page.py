"""Opening the browser page."""

from __future__ import annotations

import webbrowser

import click

from archive.cli.door import WholeNumber, pass_archive
from archive.records.archive import Archive


@click.command("open")
@click.option(
    "--port", type=WholeNumber(0, 65535), help="Serve at this port, not the usual one; 0: at any free one."
)
@click.option("--no-browser", is_flag=True, help="Only serve; open no browser.")
@click.option("--on-network", is_flag=True, help="Let a tablet look too, with a code that is shown here.")
@click.option("--may-change", is_flag=True, help="Let a tablet that gave the code change things as well.")
@pass_archive
def open_page(
    archive: Archive, port: int | None, no_browser: bool, on_network: bool, may_change: bool
) -> None:
    """Open the archive as a page in your browser, on this machine only.

    \b
    Example:
        rivetbook open
    """
    from archive.web.serving import opened

    if may_change and not on_network:
        raise click.UsageError("--may-change is for tablets: it goes with --on-network.")
    with opened(
        archive.folder, port=port, on_network=on_network, may_change=may_change, show_code=_show_code
    ) as page:
        click.echo(f"The archive '{archive.folder}' is open at {page.address}")
        if on_network:
            click.echo(
                "Whoever can read along on this network sees what the tablet sees: use one that you trust."
            )
        click.echo("Ctrl+C here closes it.")
        if not no_browser:
            webbrowser.open(page.address)
        page.run()


def _show_code(address: str, code: str) -> None:
    import segno

    click.echo(
        f"To let one tablet in, open {address.partition('?')[0]} there and type {code[:4]} {code[4:]},"
    )
    click.echo("or let it read this picture:")
    segno.make(address, micro=False).terminal(compact=True)
