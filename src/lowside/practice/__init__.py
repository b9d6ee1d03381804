"""A simulated unit to measure the advice on and to learn on: see `docs/practice.md`."""
