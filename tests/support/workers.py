"""What the workers of one run share."""

import tempfile
from pathlib import Path


def shared_by_workers(run: str) -> Path:
    """A folder of this run's own; the process that leads it takes it away at its end."""
    return Path(tempfile.gettempdir()) / f"lowside-tests-{run}"
