"""What does not change while one works: the vehicle, its zones, keep-outs and mounting points.

Figures go as JSON, surfaces as one block of bytes: all corners as float32 in mm, then all triangles as uint32.
"""

import numpy as np

from packlayout.desk.catalogue import Catalogue
from packlayout.desk.state import Json
from packlayout.export.meshes import clear_surfaces, thinned
from packlayout.export.palette import (
    CG_AFTER,
    CG_BEFORE,
    FRAME_COLOURS,
    MOUNT,
    PART_COLOURS,
    RUN_COLOURS,
    SEE_THROUGH,
    TUBE,
)
from packlayout.export.tree import RUN_KINDS
from packlayout.model.brief import Case
from packlayout.model.geometry import TriMesh

_BODY_WITHIN_MM, _BODY_TRIANGLES = 1.0, 3000


class Scene:
    """Made once; `document` and `surfaces` are what the page asks for."""

    def __init__(self, case: Case, catalogue: Catalogue) -> None:
        self._points: list[bytes] = []
        self._faces: list[bytes] = []
        self._point_count = self._face_count = 0
        vehicle = case.vehicle
        clear = [
            {"name": c.name, "kind": c.kind, "rough": c.rough, **self._add(c.mesh)}
            for c in clear_surfaces(case)
        ]
        bodies = {
            key: self._add(thinned(body.mesh, _BODY_WITHIN_MM, _BODY_TRIANGLES))
            for key, body in case.bodies.items()
        }
        floor = vehicle.load_floor
        opens = {zone.name: list(zone.opens) for zone in vehicle.zones}
        self.document: Json = {
            "vehicle": vehicle.name,
            "maker": vehicle.maker,
            "brief": case.brief.name,
            "customer": case.brief.customer,
            "key": case.key,
            "wheelbase": vehicle.wheelbase_mm.value,
            "tracks": [vehicle.track_front_mm.value, vehicle.track_rear_mm.value],
            "tyre_radius": vehicle.tyres.radius_mm,
            "plated": {
                "axle": [vehicle.plated.front_axle_kg, vehicle.plated.rear_axle_kg],
                "gross": vehicle.plated.gross_kg,
            },
            "outline": {
                "side": [list(p) for p in vehicle.outline.side],
                "width": vehicle.outline.width_mm,
            },
            "floor": None
            if floor is None
            else {
                "begin": floor.begin_x_mm,
                "end": floor.end_x_mm,
                "half": floor.half_width_mm,
                "z": floor.height_mm,
            },
            "mounts": [
                {"name": m.name, "at": np.mean(np.array(m.holes), axis=0).tolist(), "thread": m.thread}
                for m in vehicle.mounts
            ],
            "clear": clear,
            "opens": opens,
            "bodies": bodies,
            "colours": {
                "part": PART_COLOURS,
                "clear": {kind: list(look) for kind, look in SEE_THROUGH.items()},
                "frame": FRAME_COLOURS[TUBE],
                "run": {kind: RUN_COLOURS[name] for kind, name in RUN_KINDS.items()},
                "mount": MOUNT,
                "before": CG_BEFORE,
                "after": CG_AFTER,
            },
            "catalogue": [
                {"key": o.key, "name": o.name, "maker": o.maker, "kind": o.kind, "mass_kg": o.mass_kg}
                for o in catalogue.offers()
            ],
            "points": self._point_count,
            "triangles": self._face_count,
        }

    @property
    def surfaces(self) -> bytes:
        """All surfaces."""
        return b"".join((*self._points, *self._faces))

    def _add(self, mesh: TriMesh) -> Json:
        """Where a surface stands among the corners and the triangles; its triangles count from its first corner."""
        place = {
            "point": self._point_count, "points": len(mesh.vertices), "face": self._face_count, "faces": len(mesh.faces)
        }  # fmt: skip
        self._points.append(np.ascontiguousarray(mesh.vertices, dtype="<f4").tobytes())
        self._faces.append(np.ascontiguousarray(mesh.faces, dtype="<u4").tobytes())
        self._point_count += len(mesh.vertices)
        self._face_count += len(mesh.faces)
        return place
