"""Practice sessions on simulated units."""
