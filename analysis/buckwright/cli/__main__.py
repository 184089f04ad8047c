"""`python -m buckwright.cli`: the command."""

from buckwright.cli.command import main

if __name__ == "__main__":
    main()
