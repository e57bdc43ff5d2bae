"""`python -m archive`: the same as the command `rivetbook`."""

import gc


def main() -> None:
    """Start the command line: what starting brings into memory stays, so nobody need look for garbage in it."""
    gc.disable()
    from archive.cli import main as commands

    gc.freeze()
    gc.set_threshold(50_000)
    gc.enable()
    commands()


if __name__ == "__main__":
    main()
