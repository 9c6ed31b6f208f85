"""The commands, by who gives them. Words and options only; every job lives in its own module."""
