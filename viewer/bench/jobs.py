"""Work that goes on beside the bench: commands in processes of their own, one after the other; files in a thread."""

import os
import re
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock, Thread

from tonemap.errors import TrimbenchError

WAITING, RUNNING, DONE, STOPPED, FAILED = "waiting", "running", "done", "stopped", "failed"
ENDED = (DONE, STOPPED, FAILED)
PROGRESS = re.compile(r"(\d+)/(\d+) frames\Z")
STOP_STATUS = 130
PATIENCE = 20.0
"""Seconds for a process to finish the frame in hand after it was asked to stop."""


@dataclass
class Job:
    """One thing that is handed on.

    Attributes
    ----------
    title : what it is
    work : the words of a command, or a function that writes a file and returns sentences
    sentences_of : makes sentences of what the command printed
    state : WAITING, RUNNING, DONE, STOPPED or FAILED
    behind, count : frames that are done, and all of them; 0 where that is not known
    sentences : what was done, or what is wrong
    """

    title: str
    work: Sequence[str] | Callable[[], list[str]]
    sentences_of: Callable[[str], list[str]] = str.splitlines
    state: str = WAITING
    behind: int = 0
    count: int = 0
    sentences: list[str] = field(default_factory=list)

    @property
    def can_go_on(self) -> bool:
        """Whether it is a command, which can be given again."""
        return not callable(self.work)

    @property
    def text(self) -> str:
        """All that is to be said of it, to be copied."""
        command = [] if callable(self.work) else [f"trimbench {' '.join(map(_quoted, self.work))}"]
        return "\n".join([self.title, *command, *self.sentences])


class Queue:
    """The jobs, in the order in which they were given; one command runs at a time, and beside it one file is written.

    Parameters
    ----------
    called : is called from a thread when there is something new; it must be safe to call from there
    """

    def __init__(self, called: Callable[[], None] = lambda: None) -> None:
        self.jobs: list[Job] = []
        self.called = called
        self._process: subprocess.Popen[str] | None = None
        self._threads: dict[bool, Thread] = {}  # by whether it is for a command
        self._is_asked_to_stop = False
        self._starting = Lock()  # so that a stop is heard by a process that is just being started

    @property
    def running(self) -> Job | None:
        """The job at work, if there is one."""
        return next((job for job in self.jobs if job.state == RUNNING), None)

    def add(self, job: Job) -> None:
        """Put a job behind the others."""
        self.jobs.append(job)
        self.tick()

    def tick(self) -> None:
        """Begin the next command where none runs, and write the next file where none is written."""
        for is_command in (False, True):
            thread = self._threads.get(is_command)
            if thread is not None and thread.is_alive():
                continue
            job = next((job for job in self.jobs if job.state == WAITING and job.can_go_on == is_command), None)
            if job is not None:
                self._begin(job, is_command)

    def _begin(self, job: Job, is_command: bool) -> None:
        job.state, job.sentences, job.behind = RUNNING, [], 0
        if is_command:
            self._process, self._is_asked_to_stop = None, False
        self._threads[is_command] = Thread(target=self._run, args=(job,), name=job.title, daemon=True)
        self._threads[is_command].start()

    def stop(self, job: Job) -> None:
        """Stop a job; what is whole of a render stays, and `go_on` goes on from there."""
        if job.state == WAITING:
            job.state = STOPPED
        elif job.state == RUNNING and job.can_go_on:
            with self._starting:
                self._is_asked_to_stop = True
                if self._process is not None:
                    self._process.terminate()  # which ends it without a word before it hears stops

    def go_on(self, job: Job) -> None:
        """Give a stopped or failed job again."""
        if job.state in (STOPPED, FAILED) and job.can_go_on:
            job.state = WAITING
            self.tick()

    def forget(self, job: Job) -> None:
        """Take a job that has ended off the list."""
        if job.state in ENDED:
            self.jobs.remove(job)

    def close(self) -> list[str]:
        """Stop what runs and wait for it; returns sentences about what is not done."""
        left = [job for job in self.jobs if job.state in (WAITING, RUNNING)]
        for job in reversed(left):
            self.stop(job)
        for thread in self._threads.values():
            thread.join(PATIENCE)
        return [f"{job.title} is not done: {_command(job)}" for job in left if job.state != DONE]

    def _run(self, job: Job) -> None:
        try:
            if callable(job.work):
                job.sentences = job.work()
                job.state = DONE
            else:
                self._call(job, job.work)
        except (TrimbenchError, OSError) as fault:
            job.sentences, job.state = [str(fault)], FAILED
        finally:
            if job.state == RUNNING:
                job.state = FAILED
            self.called()

    def _started(self, words: Sequence[str]) -> subprocess.Popen[str] | None:
        """Start the process of a command; None where it was asked to stop before."""
        command = [sys.executable, "-m", "viewer", *words]
        root = str(Path(__file__).resolve().parents[2])
        path = os.pathsep.join(filter(None, (root, os.environ.get("PYTHONPATH"))))
        with self._starting:
            if self._is_asked_to_stop:
                return None
            self._process = subprocess.Popen(
                command,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
                encoding="utf-8",
                env={**os.environ, "PYTHONPATH": path, "PYTHONIOENCODING": "utf-8"},
                start_new_session=os.name == "posix",  # Ctrl-C in the bench's terminal is not meant for it
            )
            return self._process

    def _call(self, job: Job, words: Sequence[str]) -> None:
        started = self._started(words)
        if started is None:
            job.state = STOPPED
            return
        with started as process:
            printed: list[str] = []
            output = process.stdout
            reading = Thread(target=lambda: printed.extend(output or ()), daemon=True)
            reading.start()
            told = [line for line in process.stderr or () if not self._is_progress(job, line.strip())]
            reading.join()
        told = [line.strip().removeprefix("trimbench: ") for line in told if line.strip()]
        status = process.returncode
        text = "".join(printed)
        job.sentences = [*(job.sentences_of(text) if text.strip() else []), *told]
        is_stopped = status == STOP_STATUS or (self._is_asked_to_stop and status != 0)
        job.state = DONE if status == 0 else STOPPED if is_stopped else FAILED

    def _is_progress(self, job: Job, line: str) -> bool:
        found = PROGRESS.match(line)
        if found is None:
            return False
        job.behind, job.count = int(found[1]), int(found[2])
        self.called()
        return True


def _command(job: Job) -> str:
    return "write it again" if callable(job.work) else f"trimbench {' '.join(map(_quoted, job.work))}"


def _quoted(word: str) -> str:
    import shlex

    return shlex.quote(word)
