"""What became of the originals, on the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from archive import wording

if TYPE_CHECKING:
    from archive.records.fixity import Finding, Verified
    from archive.records.repairing import Repaired

FAULTS = ("missing", "altered", "stray", "unlisted")
_FAULTS_SAID = {
    "missing": "Missing",
    "altered": "Altered",
    "stray": "Known to nobody",
    "unlisted": "Not rightly in the list of checksums beside it",
}


def finding_json(finding: Finding) -> dict[str, Any]:
    """What is wrong with a file, for a JSON document."""
    return {"path": finding.path, "message": finding.message, "remedy": finding.remedy}


def verified(found: Verified) -> None:
    """What a check of the originals found."""
    size = f"{found.bytes / 1e6:,.1f} MB" if found.bytes < 1e9 else f"{found.bytes / 1e9:,.1f} GB"
    click.echo(f"Read {wording.counted(found.files, 'file', 'files')} ({size}).")
    if not found.findings:
        click.echo("Every original is what it was when it came.")
    _findings(found.findings)


def _findings(findings: Sequence[Finding]) -> None:
    for fault in FAULTS:
        these = [finding for finding in findings if finding.fault == fault]
        if these:
            click.echo(f"{_FAULTS_SAID[fault]}:")
        for finding in these:
            click.echo(f"  {finding.path}: {finding.message}. {finding.remedy}.")


def repaired(done: Repaired) -> None:
    """What a repair did."""
    click.echo(f"Put back {wording.counted(len(done.put_back), 'original', 'originals')}.")
    for each in done.put_back:
        kept = f"; the altered one is '{each.kept_as}'" if each.kept_as else ""
        click.echo(f"  {each.path}, from '{each.taken_from}'{kept}")
    if done.lists_written:
        click.echo("Wrote the lists of checksums anew.")
    if done.still_wrong:
        click.echo("Still wrong:")
        _findings(done.still_wrong)
