"""Photos: what phones send, what the pages show, what a browser without our script uploads."""
