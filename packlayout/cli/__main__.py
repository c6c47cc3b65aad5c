"""`python -m packlayout.cli`."""

from packlayout.cli import main

main()
