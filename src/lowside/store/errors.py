"""What can go wrong with a store as a whole. The message is the sentence the user reads."""


class StoreError(Exception):
    """The store cannot do what was asked."""


class StoreBusyError(StoreError):
    """Another process writes to this store; `pid` names it, 0 when unknown."""

    def __init__(self, message: str, pid: int) -> None:
        super().__init__(message)
        self.pid = pid


class StoreStoppedError(StoreError):
    """A write failed, so this process writes no more. It was not acknowledged."""


class NotNowError(StoreError):
    """Nothing of this was written, and nothing is wrong with the store. Later it may work."""


class ReadOnlyError(StoreError):
    """The store was opened for reading."""
