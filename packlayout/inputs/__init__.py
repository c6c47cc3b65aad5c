"""Files -> `Case`. The only reader of input files; every fault is told at file:line."""
