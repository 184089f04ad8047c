"""`python -m buckwright`: the command."""

from buckwright.cli import main

if __name__ == "__main__":
    main()
