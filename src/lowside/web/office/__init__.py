"""The shop's pages."""
