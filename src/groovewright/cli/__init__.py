"""The command line: a door that reads options and files, asks the house, and prints."""

from groovewright.cli.app import main

__all__ = ["main"]
