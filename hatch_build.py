"""Puts the starter workshop into the wheel.

In a checkout the program finds modules/, shared/, kits/ and bays/ at the top; an installed one finds the same
folders under packlayout/starter/. They are named file by file because hatch's own `force-include` takes
whole folders, and the scan meshes that `make scans` generates must stay out.
"""

from fnmatch import fnmatch
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

FOLDERS = ("modules", "shared", "kits", "bays")
GENERATED = ("scan*.ply", "*.pyc", ".*")


class StarterHook(BuildHookInterface):
    """Lists the starter files for a standard wheel; an editable install reads the checkout itself."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Add each starter file to the wheel.

        Args:
            version: `standard` or `editable`.
            build_data: Changed in place: `force_include` maps a file to its path in the wheel.
        """
        if version == "editable":
            return
        root = Path(self.root)
        for folder in FOLDERS:
            for path in sorted((root / folder).rglob("*")):
                if path.is_file() and not any(fnmatch(path.name, pattern) for pattern in GENERATED):
                    inside = path.relative_to(root).as_posix()
                    build_data["force_include"][str(path)] = f"packlayout/starter/{inside}"
