"""The command, from a checkout: `python -m render.cli`."""

from render.cli import main

main()
