"""The pure core: an append-only list of events in, everything a screen shows out."""
