"""A shader as machine code of this processor: made, given its uniforms and arrays, run over rows on every core."""

import ctypes
import math
import os
import subprocess
import sys
import tempfile
import threading
from collections.abc import Mapping
from functools import cache
from multiprocessing.pool import ThreadPool
from pathlib import Path
from typing import Any

import llvmlite.binding as llvm
import numpy as np

from ..compose import Composed
from ..gl.program import UniformValue, translate_log
from .code import Untranslatable
from .pixels import IMAGE_CELLS, RESULT_CELLS, Format
from .spirv import Module
from .translation import Translated, translate

COMPILER = "glslangValidator"
MOST_NUMBERS = 2**31 - 1
GIVING_WAY = 19
"""Steps of niceness."""
BAND = 32
"""Rows that a thread takes at a time."""


class VectorProgram:
    """A fragment main; its code is made for the kinds of arrays that it is first drawn with, and again for others."""

    def __init__(self, composed: Composed) -> None:
        """Read the shader; raises Untranslatable when glslang does not take it, with the author's file and line."""
        self._module = Module(spirv_of(composed))
        self._made: dict[Any, tuple[Translated, MachineCode]] = {}
        self._cells: dict[str, float | int] = {}
        self._images: dict[str, np.ndarray] = {}

    def set(self, name: str, value: UniformValue) -> None:
        """Set one uniform: float, int, bool, a vector or a 3 x 3 matrix."""
        array = np.asarray(value)
        if array.shape == (3, 3):
            for column in range(3):
                for row in range(3):
                    self._cells[f"{name}[{column}][{row}]"] = float(array[row, column])
        elif array.ndim:
            for place, number in enumerate(array.tolist()):
                self._cells[f"{name}[{place}]"] = number
        else:
            self._cells[name] = array.item()

    def set_image(self, name: str, array: np.ndarray) -> None:
        """Set what a sampler, or a block of one array, reads: (rows, columns) or (rows, columns, channels).

        Raises
        ------
        Untranslatable
            When it has more numbers than places are counted with here.
        """
        lies_well = (
            array[:1].flags.c_contiguous and array.strides[0] % (array.itemsize * math.prod(array.shape[2:])) == 0
        )
        array = array if lies_well else np.ascontiguousarray(array)
        if array.shape[0] * array.strides[0] // array.itemsize > MOST_NUMBERS:
            raise Untranslatable(f"a picture of more than {MOST_NUMBERS} numbers")
        self._images[name] = array

    def draw(self, results: Mapping[str, np.ndarray]) -> None:
        """Draw every pixel of results, arrays (rows, columns) or (rows, columns, channels) of main's own names."""
        rows, columns = next(iter(results.values())).shape[:2]
        if columns >= lanes():
            translated, address = self._code_for(results, are_covered=True)
            shapes = [self._images[name].shape[:2] for name in translated.read_here]
            if any(shape[0] < rows or shape[1] < columns for shape in shapes):
                translated, address = self._code_for(results, are_covered=False)
            self._run(translated, address, results)
            return
        wide = {name: np.empty((rows, lanes(), *array.shape[2:]), array.dtype) for name, array in results.items()}
        self._run(*self._code_for(wide, are_covered=False), wide)
        for name, array in results.items():
            array[:] = wide[name][:, :columns]

    def _run(self, translated: Translated, address: int, results: Mapping[str, np.ndarray]) -> None:
        rows, columns = next(iter(results.values())).shape[:2]
        cells = np.zeros(max(len(translated.cells), 1), np.int32)
        floats = cells.view(np.float32)
        for name, cell in translated.cells.items():
            number = self._cells.get(name, 0)
            if isinstance(number, float):
                floats[cell] = number
            else:
                cells[cell] = int(number)
        images = np.zeros(max(IMAGE_CELLS * len(translated.images), 1), np.int64)
        arrays = [self._images[name] for name in translated.images]
        for place, array in enumerate(arrays):
            line = array.strides[0] // array.itemsize
            images[IMAGE_CELLS * place :][:IMAGE_CELLS] = array.ctypes.data, array.shape[1], array.shape[0], line
        targets = np.zeros(RESULT_CELLS * len(results), np.int64)
        for place, array in enumerate(results.values()):
            targets[RESULT_CELLS * place :][:RESULT_CELLS] = array.ctypes.data, array.strides[0] // array.itemsize
        draw = ctypes.CFUNCTYPE(None, *[ctypes.c_void_p] * 3, *[ctypes.c_int32] * 3)(address)
        read_or_written = arrays, results, self

        def band(first: int, _held: object = read_or_written) -> None:  # after a stop, threads may still be at work
            draw(cells.ctypes.data, images.ctypes.data, targets.ctypes.data, first, min(first + BAND, rows), columns)

        _threads().map(band, range(0, rows, BAND), chunksize=1)

    def _code_for(self, results: Mapping[str, np.ndarray], are_covered: bool) -> tuple[Translated, int]:
        images = {name: Format.of(array) for name, array in self._images.items()}
        targets = {name: Format.of(array) for name, array in results.items()}
        key = tuple(images.items()), tuple(targets.items()), are_covered
        if key not in self._made:
            translated = translate(self._module, images, targets, lanes(), are_covered)
            self._made[key] = translated, MachineCode(translated.text)
        translated, code = self._made[key]
        return translated, code.address


def spirv_of(composed: Composed) -> bytes:
    """Compile a fragment shader by glslang."""
    try:
        with tempfile.TemporaryDirectory() as folder:
            source, binary = Path(folder) / "main.frag", Path(folder) / "main.spv"
            source.write_text(composed.text, encoding="utf-8")
            call = [COMPILER, "-G", "--aml", "--amb", "-o", str(binary), str(source)]
            done = subprocess.run(call, check=False, capture_output=True, text=True, errors="replace")
            if done.returncode or not binary.exists():
                raise Untranslatable(_refusal(done, str(source), composed))
            return binary.read_bytes()
    except OSError as fault:
        raise Untranslatable(f"{COMPILER} can't be run: {fault}") from fault


def _refusal(done: "subprocess.CompletedProcess[str]", source: str, composed: Composed) -> str:
    """Return in one sentence why there is no code, with the author's file and line where glslang says one."""
    log = (done.stdout or done.stderr).strip().removeprefix(source).replace(source, "0")
    words = " ".join(translate_log(log, composed).split())
    return words or f"{COMPILER} makes nothing of it and says nothing (exit status {done.returncode})"


class MachineCode:
    """What LLVM makes of a text in its language; lasts as long as this object.

    Attributes
    ----------
    address : of `draw`
    """

    def __init__(self, text: str) -> None:
        module, machine = llvm.parse_assembly(text), _target_machine()
        module.triple, module.data_layout = machine.triple, str(machine.target_data)
        options = llvm.create_pipeline_tuning_options(speed_level=2)
        options.loop_vectorization = options.slp_vectorization = False  # all is in vectors as it comes
        builder = llvm.create_pass_builder(machine, options)
        builder.getModulePassManager().run(module, builder)
        self._engine = llvm.create_mcjit_compiler(module, _target_machine())
        self._engine.finalize_object()
        self.address: int = self._engine.get_function_address("draw")


def lanes() -> int:
    """Return how many numbers of 32 bits a vector of this processor has, twice as many where it helps."""
    return 16 if llvm.get_host_cpu_features().get("avx512f") else 8


def processor_name() -> str:
    """Return what computes: lanes, processor and compiler."""
    version = ".".join(map(str, llvm.llvm_version_info[:2]))
    return f"{lanes()} lanes, {llvm.get_host_cpu_name()}, LLVM {version}"


def _target_machine() -> Any:
    _initialise()
    features = llvm.get_host_cpu_features()
    text = features.flatten() + (",-prefer-256-bit" if features.get("avx512f") else "")
    target = llvm.Target.from_default_triple()
    return target.create_target_machine(cpu=llvm.get_host_cpu_name(), features=text, opt=2, jit=True)


@cache
def _initialise() -> None:
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()


@cache
def _threads() -> ThreadPool:
    """Return threads that the end of the process does not wait for, should a shader never come to its own."""
    return ThreadPool(os.cpu_count() or 1, _give_way)


def _give_way() -> None:
    """Let other threads go first, where the system knows priorities of threads: what is drawn is for one that encodes.

    An encoder that uses every core has a part that uses one, and the others are for what is drawn ahead.
    """
    if sys.platform == "linux":
        own = threading.get_native_id()
        os.setpriority(os.PRIO_PROCESS, own, min(os.getpriority(os.PRIO_PROCESS, own) + GIVING_WAY, 19))
