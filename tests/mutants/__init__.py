"""Faults planted one at a time all over the engine, to see that its tests notice: `python -m tests.mutants`."""
