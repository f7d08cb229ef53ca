"""A master: a still, an image sequence or a movie, opened in one way and read frame by frame."""

from abc import ABC, abstractmethod
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from pathlib import Path

from ..encoding import Encoding
from ..errors import TrimbenchError, WrongCall
from ..measure.metadata import ContentLight, MasteringDisplay
from ..picture import Picture
from .planes import Planes
from .wishes import EncodingWishes

STILL, SEQUENCE, MOVIE = "still", "sequence", "movie"

MOVIE_ENDINGS = (
    ".mov", ".mp4", ".m4v", ".mkv", ".webm", ".mxf", ".avi", ".ts", ".m2ts", ".mts", ".mpg", ".nut", ".y4m", ".ivf",
    ".hevc", ".h265", ".265", ".h264", ".264", ".obu",
)  # fmt: skip


@dataclass(frozen=True)
class Frame:
    """One frame of a master: a picture, or the sentence that says why there is none.

    Attributes
    ----------
    index : place in the master, from 0; frames that are missing have theirs too
    name : as the user knows it: 'frame 12', or a file's name
    content : the picture, or a movie's planes, of which `picture` makes one when it is asked for
    fault : None, or one sentence
    encoding : of the picture
    """

    index: int
    name: str
    encoding: Encoding
    content: Picture | Planes | None = None
    fault: str | None = None

    @cached_property
    def picture(self) -> Picture:
        """The picture; raises TrimbenchError with the fault where there is none."""
        if self.content is None:
            raise TrimbenchError(self.fault or f"{self.name} has no picture")
        return self.content if isinstance(self.content, Picture) else self.content.picture(self.encoding)

    def at(self, index: int) -> "Frame":
        """Return the frame at another place."""
        return self if self.index == index else replace(self, index=index)

    @property
    def is_coded(self) -> bool:
        """Whether it holds planes of which no picture has been made yet."""
        return isinstance(self.content, Planes) and "picture" not in vars(self)

    @property
    def planes(self) -> Planes | None:
        """The planes of a movie's frame; None for other masters, and for a fault."""
        return self.content if isinstance(self.content, Planes) else None


@dataclass(frozen=True)
class Facts:
    """What is known of a master when it has been opened.

    Attributes
    ----------
    path : as the user named it
    kind : 'still', 'sequence' or 'movie'
    format : 'DPX', 'HEVC (Main 10) in MP4', ...
    encoding : of every picture that `frames` gives
    stored : the same with the bits and the range of the samples in the file
    coding : how the file stores the samples, for example "10-bit narrow Y'CbCr 4:2:0, BT.2020 matrix, ..."
    origins : where each part of the encoding comes from
    notices : sentences about what was left out, placed or assumed
    rows, columns : size of the frames
    count : number of frames, those that are missing included
    first_number : what the user calls the first frame: a sequence's first number, else 0
    rate : frames a second, where known
    timecode : of the first frame, where known
    is_cut_short : whether the file says that there were more frames than there are
    """

    path: Path
    kind: str
    format: str
    encoding: Encoding
    stored: Encoding
    coding: str
    origins: dict[str, str]
    notices: tuple[str, ...]
    rows: int
    columns: int
    count: int
    first_number: int = 0
    number_step: int = 1
    rate: Fraction | None = None
    timecode: str | None = None
    mastering_display: MasteringDisplay | None = None
    content_light: ContentLight | None = None
    is_cut_short: bool = False


class Master(ABC):
    """A master; `facts` says what it is, `frames` reads it."""

    def __init__(self, facts: Facts) -> None:
        self.facts = facts

    @property
    def encoding(self) -> Encoding:
        """The encoding of every picture."""
        return self.facts.encoding

    @property
    def count(self) -> int:
        """The number of frames, those that are missing included."""
        return self.facts.count

    def files(self) -> list[Path]:
        """Return the files that the master is read from."""
        return [self.facts.path]

    def file_at(self, index: int) -> Path:
        """Return the file that a frame is read from, whether it is there or not."""
        return self.facts.path

    def number(self, index: int) -> int:
        """Return what the user calls a frame: the number in its file's name; in a movie its place, from 0."""
        return self.facts.first_number + index * self.facts.number_step

    def index(self, number: int) -> int:
        """Return the place of the frame that the user calls `number`; it need not exist."""
        return (number - self.facts.first_number) // self.facts.number_step

    def nearest_start(self, index: int) -> int:
        """Return the frame at `index`, or one before it that is faster to get at."""
        return index

    def frames(self, first: int = 0, last: int | None = None, step: int = 1) -> Iterator[Frame]:
        """Yield the frames first, first + step, ... up to `last` and including it, each exactly once and in order.

        A frame that is missing or can't be read is yielded with its fault in place of a picture, and the rest goes on.

        Raises
        ------
        WrongCall
            If there are no such frames.
        """
        end = self.facts.count - 1
        last = end if last is None else last
        if step < 1:
            raise WrongCall(f"{self.facts.path}: a step of {step} frames leads nowhere; give 1 or more")
        if not 0 <= first <= last <= end:
            numbers = map(self.number, (first, last, 0, end))
            raise WrongCall("{}: there are no frames {}-{}; the frames are {}-{}".format(self.facts.path, *numbers))
        return self._frames(range(first, last + 1, step))

    @abstractmethod
    def _frames(self, wanted: range) -> Iterator[Frame]:
        """Yield the wanted frames."""


class Still(Master):
    """A single picture."""

    def __init__(self, facts: Facts, picture: Picture) -> None:
        super().__init__(facts)
        self._picture = picture

    def _frames(self, wanted: range) -> Iterator[Frame]:
        yield Frame(0, self.facts.path.name, self.facts.encoding, self._picture)


def open_master(
    path: str | Path, wishes: EncodingWishes | None = None, *, as_sequence: bool = False, matrix: str | None = None
) -> Master:
    """Open a still, an image sequence or a movie.

    Parameters
    ----------
    path : a file; a folder of numbered pictures; or a pattern of their names: `shot.%04d.exr`, `shot.####.exr`
    wishes : what the user says of the encoding; it overrides the tags
    as_sequence : whether a single picture's name stands for all that are numbered like it
    matrix : name in `planes.MATRICES`, what the user says of a movie's Y'CbCr; it overrides the tags

    Raises
    ------
    TrimbenchError
        If nothing can be read there; one sentence.
    WrongCall
        If the encoding can't be known from the file, or is not possible as it was said.
    """
    from . import sequence

    path = Path(path)
    wishes = wishes or EncodingWishes()
    is_movie = path.suffix.lower() in MOVIE_ENDINGS and not sequence.is_pattern(path.name) and not path.is_dir()
    if matrix is not None and not is_movie:
        raise WrongCall(f"{path}: the matrix is a matter of movies, and this is none; leave out --matrix")
    if is_movie:
        if as_sequence:
            raise WrongCall(f"{path}: a movie is a sequence in itself; leave out --sequence")
        from .movie import open_movie

        return open_movie(path, wishes, matrix)
    if as_sequence or path.is_dir() or sequence.is_pattern(path.name):
        return sequence.open_sequence(path, wishes)
    return open_still(path, wishes)


def open_still(path: Path, wishes: EncodingWishes) -> Still:
    """Open a single picture."""
    from .header import header_facts
    from .oiio import read_picture

    read = read_picture(path, wishes)
    facts = Facts(
        path=path,
        kind=STILL,
        format=read.file_format,
        encoding=read.picture.encoding,
        stored=read.picture.encoding,
        coding=coding_of(read.picture.encoding),
        origins=read.origins,
        notices=read.notices,
        rows=read.picture.rows,
        columns=read.picture.columns,
        count=1,
        **vars(header_facts(path)),
    )
    return Still(facts, read.picture)


def coding_of(encoding: Encoding) -> str:
    """Say how a picture file stores its samples."""
    return "floating point" if encoding.bits is None else f"{encoding.bits}-bit {encoding.signal_range} R'G'B'"
