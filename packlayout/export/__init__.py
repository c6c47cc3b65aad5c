"""Results -> files. The only writer of exports/.

Each kind of output is one file of this folder and one line of `EXPORTERS`; `write` writes them. Both are in
`exporters` and are looked up there when they are asked for: a process that only draws a picture has no use for the
rest.
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from packlayout.export.exporters import EXPORTERS, write

__all__ = ["EXPORTERS", "write"]


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from packlayout.export import exporters

    return getattr(exporters, name)
