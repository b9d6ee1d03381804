"""A simulated unit. It measures the advice, and people learn on it: see `docs/practice.md`."""
