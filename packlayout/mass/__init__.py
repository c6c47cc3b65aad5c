"""Weighing: one sum of mass items, axle and corner loads, load states, tolerances, payload, limits."""
