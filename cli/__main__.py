"""``python -m kerfwright.cli``, where the command itself is not on the path."""

from .main import main

main()
