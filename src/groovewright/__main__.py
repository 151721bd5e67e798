"""`python -m groovewright` is the `groovewright` command."""

from groovewright.cli import main

if __name__ == "__main__":
    main()
