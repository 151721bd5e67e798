"""Bench companion for mounting phono cartridges: the next move, the proof and the paper."""

__version__ = "0.1.0"
