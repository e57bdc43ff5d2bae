"""`python -m archive`: the same as the command `rivetbook`."""

import gc


def main() -> None:
    """Run the command line without looking for garbage where there is none: a quarter of a short command's time."""
    gc.disable()
    from archive.cli import main as commands

    gc.freeze()  # what starting brings into memory stays there
    gc.set_threshold(50_000)
    gc.enable()
    try:
        commands()
    finally:
        gc.freeze()  # what is left goes with the process


if __name__ == "__main__":
    main()
