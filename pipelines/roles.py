"""Who did a thing, as the log says it: a role, never a person's name."""

from typing import Final

NOT_STATED: Final = "not stated"
"""Where a command was given without one."""
