"""``python -m kerfwright.cli``, where the command itself is not on the path."""

from .start import main

main()
