"""`python -m archive`: the same as the command `rivetbook`."""

from archive.cli import main

if __name__ == "__main__":
    main()
