"""The technician's pages, answered by the server."""
