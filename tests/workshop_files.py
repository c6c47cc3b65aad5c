"""The text of a small workshop: one vehicle, one brief, three parts and the tables. All of it invented."""

MODULE = """\
kind: battery module
name: Hartle H12 module
maker: Hartle Cells
size: [300, 180, 120]
mass: 12 +/- 0.2
up: ["+z", "+y"]
access:
  - {face: "+x", depth: 40, reason: terminals}
electrical: {energy: 2.4, capacity: 50, min: 36, nominal: 44, max: 50, continuous: 150, peak: 300}
source: invented for tests
"""

MOTOR = """\
kind: motor
name: Hartle M30 motor
maker: Hartle Motors
size: [260, 240, 240]
mass: 38
cg: ["130 +/- 5", 120, 120]
ports:
  - {name: shaft, kind: shaft, at: [260, 120, 120], direction: "+x"}
electrical: {min: 100, max: 400, continuous_kw: 20, peak_kw: 40, peak_nm: 120, max_rpm: 9000}
source: invented for tests
"""

CHARGER = """\
kind: charger
name: Wick 3 charger
maker: Wick Power
size: [250, 170, 80]
mass: 4.5
electrical: {min: 100, max: 400, power: 3.3 kW}
source: invented for tests
"""

VEHICLE = """\
name: Corrow Two van
maker: Corrow Vehicles
wheelbase: 2300 +/- 3
track_front: 1240 +/- 4
track_rear: 1230 +/- 4
plated: {front_axle: 700, rear_axle: 800, gross: 1450}
tyres: {size: 5.60-15, front_load: 400, rear_load: 420, radius: 305}
weighed:
  axles: {front: 520 +/- 2, rear: 480 +/- 2}
  fuel: 20 +/- 2
cg_height:
  stated: 560 +/- 20
fuel_tank: {capacity: 35, at: [2500, 0, 450]}
removed:
  - {name: engine, mass: 150 +/- 3, at: [100, 0, 550]}
mounts:
  - {name: left, face: "+z", holes: [[100, -300, 330], [160, -300, 330]], thread: M10}
  - {name: right, face: "+z", holes: [[100, 300, 330], [160, 300, 330]], thread: M10}
zones:
  - name: bay
    use: engine bay
    stations:
      - x: -300
        outline: [[-350, 300], [350, 300], [350, 800], [-350, 800]]
      - x: 100
        outline: [[-350, 300], [350, 300], [380, 850], [-380, 850]]
      - x: 500
        outline: [[-350, 300], [350, 300], [350, 900], [-350, 900]]
  - name: tank
    use: former fuel tank
    box: {corner: [2300, -300, 300], opposite: [2800, 300, 550]}
keep_outs:
  - name: cross-member
    box: {corner: [-100, -300, 300], opposite: [0, 300, 340]}
  - name: column
    kind: moving
    cylinder: {start: [-150, 280, 420], end: [500, 300, 790], diameter: 38}
  - name: bracket
    extruded: {along: y, begin: -300, end: -200, outline: [[450, 800], [490, 800], [490, 880]]}
outline:
  width: 1500
  side: [[-600, 300], [3000, 300], [3000, 1500], [800, 1500], [-600, 900]]
"""

BRIEF = """\
name: first job
design_code: plain
modules: {part: module, count: 4, zones: [bay]}
parts:
  - {part: motor, zones: [bay]}
  - {part: charger, zones: [tank]}
frame: {cradle_tube: SHS 25x2, leg_tube: SHS 30x2, material: S235}
"""

TUBES = """\
source: invented for tests
sections:
  - {name: SHS 25x2, side: 25, wall: 2, outer_radius: 4, area_mm2: 174, inertia_mm4: 14800, modulus_mm3: 1190}
  - {name: SHS 30x2, side: 30, wall: 2, outer_radius: 4, area_mm2: 214, inertia_mm4: 27200, modulus_mm3: 1810}
"""

MATERIALS = """\
materials:
  - {name: S235, density: 7850, yield: 235, ultimate: 360, modulus: 210000, source: invented for tests}
"""

FASTENERS = """\
source: invented for tests
threads:
  - {thread: M10, clearance_hole: 11, washer_diameter: 20}
"""

CONVENTIONS = """\
driver: 75
fuel_percent: 90
fuel_kg_per_m3: 745
inertia_slope: [0.5, 3, 3]
inertia_offset: [-180, -1700, -1700]
inertia_tolerance: 30
sources: {driver: invented for tests}
"""

CODE = """\
name: plain
title: Plain
limits:
  - {quantity: kerb mass ratio, sense: max, value: 110, unit: percent, source: invented for tests}
"""

BRIEF_FILE = "bays/corrow/first.yaml"
VEHICLE_FILE = "bays/corrow/vehicle.yaml"

FILES = {
    "modules/module.yaml": MODULE,
    "modules/motor.yaml": MOTOR,
    "modules/charger.yaml": CHARGER,
    VEHICLE_FILE: VEHICLE,
    BRIEF_FILE: BRIEF,
    "shared/tubes.yaml": TUBES,
    "shared/materials.yaml": MATERIALS,
    "shared/fasteners.yaml": FASTENERS,
    "shared/conventions.yaml": CONVENTIONS,
    "shared/design-codes/plain.yaml": CODE,
}
