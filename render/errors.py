"""What can go wrong, as a tree.

```
TwillightError                 one sentence: what, where, what to do
├── InputError      (exit 65)  a stitch file, list, preset or value handed in cannot be used, or is not there
├── UsageError      (exit 2)   the options contradict each other, or ask for what the program does not do
└── OutputError     (exit 74)  the result cannot be written there
```

Anything else that escapes is a fault of the program (exit 70). Oddities that do not
stop the work are no errors: they become notes on the record and reach the report.
"""

from __future__ import annotations


class TwillightError(Exception):
    """Base of every error raised on purpose; its text is one sentence for the user."""

    exit_code: int = 70


class InputError(TwillightError):
    """A file or value handed in cannot be used."""

    exit_code = 65


class UsageError(TwillightError):
    """The request itself makes no sense."""

    exit_code = 2


class OutputError(TwillightError):
    """The result cannot be written."""

    exit_code = 74
