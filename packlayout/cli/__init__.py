"""The doors: one command each. No logic; heavy imports only inside the command that needs them."""

from packlayout.cli import desk, electric, job, screen, workshop
from packlayout.cli.door import app

__all__ = ["app", "desk", "electric", "job", "main", "screen", "workshop"]


def main() -> None:
    """Entry point of the `packlayout` command."""
    app()
