"""Packlayout: fit a standard electric drive into an old car or van, weigh it, and build what carries it.

The data flows one way::

    files -> inputs -> model (Case) -> space -> placement -> mass -> frame -> study -> export
                                                                                 -> cli

Each folder is one stage. `study.run(case, seed)` is the whole calculation, without files or screen;
`inputs` is the only reader of files, `export` the only writer of results, `cli` holds no logic.
Axes after ISO 4130: x rearward from the front axle line, y to the right, z up from the ground.
Lengths are mm, masses kg, forces N, stresses MPa.

This file imports nothing, so that the version can be read at no cost.
"""

__version__ = "0.1.0"
