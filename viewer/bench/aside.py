"""Reading that would hold up the interface, in a thread of its own. Plain Python."""

from collections.abc import Callable
from threading import Thread
from typing import Generic, TypeVar

Result = TypeVar("Result")


class Aside(Generic[Result]):
    """One job in a thread, and what its result is for.

    Parameters
    ----------
    what : the name of what is read, for the screen
    job : is called in the thread
    then : takes the result, in the thread of the caller of `finish`
    called : is called from the thread when the job is done; it must be safe to call from there

    Attributes
    ----------
    note : a sentence to say afterwards, where nothing else is to be said
    """

    def __init__(
        self, what: str, job: Callable[[], Result], then: Callable[[Result], None], called: Callable[[], None]
    ) -> None:
        self.what = what
        self.note: str | None = None
        self._job, self._then, self._called = job, then, called
        self._result: list[Result] = []
        self._fault: BaseException | None = None
        self._is_done = False
        self._thread = Thread(target=self._run, name=f"reading {what}", daemon=True)
        self._thread.start()

    @property
    def is_done(self) -> bool:
        """Whether there is a result, or a fault."""
        return self._is_done

    def wait(self) -> None:
        """Wait for the end of the job."""
        self._thread.join()

    def finish(self) -> None:
        """Hand the result over; what the job raised is raised here."""
        if self._fault is not None:
            raise self._fault
        self._then(self._result[0])

    def _run(self) -> None:
        try:
            self._result.append(self._job())
        except BaseException as fault:  # handed over, whatever it is
            self._fault = fault
        self._is_done = True
        self._called()
