"""The drive: propeller shaft, performance, range, charging, the old dials."""
