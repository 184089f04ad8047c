"""`python -m buckwright`: the command."""

from buckwright.entry import main

if __name__ == "__main__":
    main()
