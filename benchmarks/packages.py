"""One packing problem for a package of the registry: run by an interpreter that has it, told by JSON on both sides.

echo '{"tool": "py3dbp", "bin": [..], "items": [{"size": [..], "rotations": ["XYZ"], "copies": 3}], "limit": 10}' |
PYTHON benchmarks/packages.py

Stands alone: it imports nothing of this repository, since the interpreter may not have what the rest needs. What it
answers is checked by the one who asked: places [x, y, z, lx, ly, lz, item] and processor time.
"""

import json
import sys
from time import process_time


def with_py3dbp(job):
    """py3dbp (MIT): largest first, any side up, since it cannot be told which may be."""
    from py3dbp import Bin, Item, Packer

    packer = Packer()
    packer.add_bin(Bin("bin", *job["bin"], 1e9))
    for n, row in enumerate(job["items"]):
        for _ in range(row["copies"]):
            packer.add_item(Item(str(n), *row["size"], 1))
    packer.pack(bigger_first=True, number_of_decimals=0)
    placed = []
    for item in packer.bins[0].items:
        at, size = [float(v) for v in item.position], [float(v) for v in item.get_dimension()]
        placed.append([*at, *size, int(item.name)])
    return placed


def with_packingsolver3d(job):
    """packingsolver3d (MIT): the most volume in one bin."""
    from packingsolver3d import BinType, Instance, ItemType, Objective, Rotation, box

    x, y, z = (int(v) for v in job["bin"])
    items = []
    for row in job["items"]:
        a, b, c = (int(v) for v in row["size"])
        turns = [Rotation(name) for name in row["rotations"]]
        items.append(ItemType(x=a, y=b, z=c, profit=a * b * c, copies=row["copies"], rotations=turns))
    instance = Instance(bin_types=[BinType(x=x, y=y, z=z)], item_types=items, objective=Objective.KNAPSACK)
    found = box.solve(instance, time_limit=job["limit"])
    return [[p.x, p.y, p.z, p.lx, p.ly, p.lz, p.item_type_id] for b in found.bins for p in b.placements]


TOOLS = {"py3dbp": with_py3dbp, "packingsolver3d": with_packingsolver3d}


def main():
    """Answer one job."""
    job = json.load(sys.stdin)
    start = process_time()
    try:
        placed = TOOLS[job["tool"]](job)
    except ImportError as error:
        json.dump({"missing": str(error)}, sys.stdout)
        return
    json.dump({"placed": placed, "seconds": process_time() - start}, sys.stdout)


if __name__ == "__main__":
    main()
