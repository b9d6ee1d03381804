"""The journal of a store that is written to, and the thread that settles it.

To settle is to wait until the disk has the logs that the journal speaks of, and to remove it.
"""

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from pathlib import Path
from threading import Condition, Lock, Thread

from lowside.store import durable
from lowside.store.journal import Piece, journal_path, written

LATER_S = 2.0
"""How long logs wait to be settled, and after an error until it is tried again. Our choice."""
MOST_BYTES = 16_000_000
"""Then they are settled at once. A start puts back so much in a second or so. Our choice."""
NOT_SETTLED = (
    "Entries are safe, but are still written twice: the disk did not take some logs ({}). It is "
    "tried again."
)
Mark = tuple[int, int]
"""How the journal is at a moment: its size and how many logs it speaks of."""


class Journal:
    """Whoever saves holds the store's lock for saving; the thread takes it when it must."""

    def __init__(
        self,
        root: Path,
        saving: AbstractContextManager[object],
        may_settle: Callable[[], bool],
        failed: Callable[[OSError], object],
        problems: dict[str, list[str]],
    ) -> None:
        """It is empty: `put_back` was called.

        Args:
            saving: the store's lock for saving.
            may_settle: whether all that was saved is part of the record. Asked with that lock.
            failed: hears when the disk did not confirm: what it has is unknown then.
            problems: gets a sentence while logs cannot be settled.
        """
        self._root = root
        self._saving = saving
        self._may_settle = may_settle
        self._failed = failed
        self._problems = problems
        self._number = 1
        self._size = 0
        self._grown: dict[Path, None] = {}
        """Logs that this file speaks of."""
        self._settling: dict[Path, None] = {}
        """Those of the file before, until the disk has them."""
        self._stopping = Lock()
        self._changed = Condition()
        self._is_over = False
        self._thread: Thread | None = None

    @property
    def path(self) -> Path:
        """The file that saves go to."""
        return journal_path(self._root, self._number)

    @property
    def mark(self) -> Mark:
        """How it is now, for `cut_back`."""
        return self._size, len(self._grown)

    def takes(self, logs: Sequence[Path]) -> bool:
        """Whether a save of these goes to the journal: it has several, or the journal has what is
        before in one of them. What comes after that would hang in the air without it."""
        return len(logs) > 1 or any(log in self._grown or log in self._settling for log in logs)

    def add(self, pieces: Sequence[Piece]) -> None:
        """Write this save and wait for the disk. Its logs grow next.

        Raises
            durable.UnsureError: the disk did not confirm.
            OSError: the disk refused; `cut_back` takes back what reached it.
        """
        if self._thread is None:
            thread = Thread(target=self._run, name="settling", daemon=True)
            thread.start()
            self._thread = thread
        self._size = durable.append(self.path, written(pieces), self._size).st_size
        self._grown.update(dict.fromkeys([piece.path for piece in pieces]))
        with self._changed:
            self._changed.notify()

    def cut_back(self, mark: Mark) -> None:
        """Take back what was added since. Raises OSError: ask again; durable.UnsureError."""
        size, logs = mark
        durable.cut_back(self.path, size)
        self._size = size
        while len(self._grown) > logs:
            self._grown.popitem()

    def settle(self) -> None:
        """Wait for the disk for what was saved before now, or for what an earlier call could not
        settle. Others save meanwhile.

        Raises
            durable.UnsureError: the disk did not confirm.
            OSError: it cannot be done now. The journal stays.
        """
        with self._saving:
            if not self._may_settle() or not (self._grown or self._settling):
                return
            if not self._settling:
                self._settling, self._grown = self._grown, {}
                self._number, self._size = self._number + 1, 0
            before = journal_path(self._root, self._number - 1)
        durable.sync_files(log for log in self._settling if log.exists())
        durable.remove(before)
        with self._saving:
            self._settling = {}

    def stop(self) -> None:
        """Settle what is left, if that can be done. Nobody may hold the lock for saving."""
        with self._stopping:
            with self._changed:
                self._is_over = True
                self._changed.notify()
            if self._thread is not None:
                self._thread.join()
            while (self._settling or self._grown) and self.try_to_settle():
                pass

    def try_to_settle(self) -> bool:
        """Settle; whether that was done."""
        try:
            self.settle()
        except durable.UnsureError as error:
            self._failed(error)
        except OSError as error:
            # Nothing is lost: the journal has what the disk lacks.
            self._problems["settling"] = [NOT_SETTLED.format(error)]
        else:
            self._problems.pop("settling", None)
            return self._may_settle()
        return False

    def _run(self) -> None:
        while not self._is_over:
            with self._changed:
                self._changed.wait_for(lambda: self._is_over or self._size > 0 or self._settling)
                self._changed.wait_for(lambda: self._is_over or self._size > MOST_BYTES, LATER_S)
            if not self._is_over and not self.try_to_settle():
                with self._changed:
                    self._changed.wait_for(lambda: self._is_over, LATER_S)
