"""What the translation of GLSL to vector code makes of each part of the language, against the GL driver's compiler."""

import numpy as np
import pytest

from viewer.vectors import program
from viewer.vectors.code import Untranslatable

from .cases import CALLS, FLOATS, FLOW, MATRICES, NUMBERS
from .drawing import Driver, by_vectors, composed, of_text, pixels
from .random_programs import program as random_program

EXACT = {name: ("", body) for name, body in (FLOW | NUMBERS).items()} | CALLS
IMAGES = pixels()
SHAPE = IMAGES["codes"].shape[:2]
RANDOM_PROGRAMS = 24
NEAR = 4e-6
"""Of a float or of 1, whichever is larger: the driver has sines, powers and logarithms of its own."""


@pytest.mark.parametrize("name", EXACT)
def test_whole_numbers_and_bits_are_those_of_the_driver(name: str, driver: Driver) -> None:
    functions, body = EXACT[name]
    fragment = composed(body, functions)
    np.testing.assert_array_equal(by_vectors(fragment, IMAGES, SHAPE), driver.drawn(fragment, IMAGES, SHAPE))


@pytest.mark.parametrize("name", FLOATS)
def test_floats_are_those_of_the_driver(name: str, driver: Driver) -> None:
    fragment = composed(f"{MATRICES} result = floatBitsToUint(vec4({FLOATS[name]}));")
    drawn = (by_vectors(fragment, IMAGES, SHAPE), driver.drawn(fragment, IMAGES, SHAPE))
    ours, theirs = (one.view(np.float32) for one in drawn)
    np.testing.assert_allclose(ours, theirs, rtol=NEAR, atol=NEAR)


def test_arcs_are_those_of_numpy() -> None:
    body = "result = floatBitsToUint(vec4(asin(x.x * 0.25), acos(x.y * 0.25), atan(x.z), atan(x.x, x.w)));"
    drawn = by_vectors(composed(body), IMAGES, SHAPE).view(np.float32)  # the driver's own are 4e-4 away
    x, y, z, w = np.moveaxis(IMAGES["numbers"], -1, 0)
    wanted = np.stack([np.arcsin(x * 0.25), np.arccos(y * 0.25), np.arctan(z), np.arctan2(x, w)], -1)
    np.testing.assert_allclose(drawn, wanted, rtol=NEAR, atol=NEAR)


@pytest.mark.parametrize("lanes", [8, 16])
def test_random_programs_have_the_results_of_the_driver(
    lanes: int, driver: Driver, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(program, "lanes", lambda: lanes)
    seeds = range(lanes * RANDOM_PROGRAMS, (lanes + 1) * RANDOM_PROGRAMS)
    fragments = [composed(body, functions) for functions, body in map(random_program, seeds)]
    for seed, fragment, theirs in zip(seeds, fragments, driver.drawn_in_turn(fragments, IMAGES, SHAPE), strict=True):
        np.testing.assert_array_equal(by_vectors(fragment, IMAGES, SHAPE), theirs, f"program {seed}")


@pytest.mark.parametrize("lanes", [8, 16])
@pytest.mark.parametrize("shape", [(1, 1), (5, 7), (2, 15), (2, 16), (2, 17), (33, 31), (65, 33)])
def test_every_pixel_of_any_size_is_drawn(shape: tuple[int, int], lanes: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(program, "lanes", lambda: lanes)
    images = pixels(shape[1], shape[0])
    codes = images["codes"]
    drawn = by_vectors(composed("result = u + uvec4(at.x, at.y, 0, 1);"), images, shape)
    rows, columns = np.indices(shape, np.uint32)
    np.testing.assert_array_equal(drawn, codes + np.stack([columns, rows, 0 * rows, 0 * rows + 1], -1))


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16, np.uint32, np.float32])
@pytest.mark.parametrize("channels", [1, 2, 3])
def test_texels_elsewhere_and_beyond_an_edge(channels: int, dtype: type) -> None:
    shape = 4, 19
    wide: np.ndarray = np.random.default_rng(2).integers(0, 250, (shape[0], 26, channels)).astype(dtype)
    array = wide[:, 3 : 3 + shape[1]]  # its lines are longer in memory than the picture
    sampler, made = ("sampler2D", "floatBitsToUint(t)") if dtype is np.float32 else ("usampler2D", "t")
    kind = "vec4" if dtype is np.float32 else "uvec4"
    text = f"""
        uniform {sampler} image;
        out uvec4 result;
        void main()
        {{
            ivec2 at = ivec2(gl_FragCoord.xy);
            {kind} t = texelFetch(image, at * 2 - ivec2(9, 3), 0) + texelFetch(image, at, 0);
            result = {made};
        }}"""
    rows, columns = np.indices(shape)
    elsewhere = array[np.clip(rows * 2 - 3, 0, shape[0] - 1), np.clip(columns * 2 - 9, 0, shape[1] - 1)]
    wanted = (elsewhere.astype(np.float64) + array).astype(np.float32 if dtype is np.float32 else np.uint32)
    drawn = by_vectors(of_text(text), {"image": array}, shape)
    np.testing.assert_array_equal(drawn.view(wanted.dtype)[..., :channels], wanted)
    np.testing.assert_array_equal(drawn.view(wanted.dtype)[..., channels:], [[[0, 0, 2][channels - 1 :]] * 19] * 4)


def test_four_texels_are_gathered_as_the_driver_does(driver: Driver) -> None:
    body = """
        vec2 place = (gl_FragCoord.xy + vec2(0.3, -0.2)) / vec2(textureSize(numbers, 0));
        result = floatBitsToUint(textureGather(numbers, place)) ^ floatBitsToUint(textureGather(numbers, place, 2));"""
    fragment = composed(body)
    np.testing.assert_array_equal(by_vectors(fragment, IMAGES, SHAPE), driver.drawn(fragment, IMAGES, SHAPE))


REFUSED = {
    "a global variable": ("int count = 3;", "count += 1; result = uvec4(count);"),
    "discard": ("", "if (x.x > 0.0) discard; result = u;"),
    "a derivative": ("", "result = uvec4(dFdx(x.x));"),
    "a sum or product of more": ("", "uint more; result = uvec4(uaddCarry(u.x, u.y, more)) + more;"),
    "a bit field": ("", "result = uvec4(bitfieldExtract(i.x, 2, 3));"),
    "texture()": ("", "result = uvec4(texture(numbers, x.xy));"),
    "a texel with an offset": ("", "result = texelFetchOffset(codes, at, 0, ivec2(1, 0));"),
    "a level that is not": ("", "result = texelFetch(codes, at, 1);"),
    "a gather with offsets": ("", "result = uvec4(textureGatherOffset(numbers, x.xy, ivec2(1, 0)));"),
    "the determinant or inverse": ("", "result = uvec4(inverse(mat2(x))[0].xyxy);"),
    "modf": ("", "float whole; result = uvec4(modf(x.x, whole) + whole);"),
    "frexp or ldexp": ("", "int power; result = uvec4(frexp(x.x, power) + float(power));"),
    "numbers packed": ("", "result = uvec4(packUnorm2x16(x.xy));"),
    "GLSL's function 74": ("", "result = uvec4(findMSB(i.x));"),
    "an input of main": ("in vec2 place;", "result = uvec4(place, 0, 0);"),
    "a result that is not asked for": ("out vec4 other;", "other = x; result = u;"),
    "is no sampler2D": ("uniform usampler2DArray several;", "result = texelFetch(several, ivec3(at, 0), 0);"),
}


@pytest.mark.parametrize("words", REFUSED)
def test_what_is_not_known_is_refused_in_words(words: str) -> None:
    functions, body = REFUSED[words]
    fragment = composed(body, functions)
    with pytest.raises(Untranslatable, match=words.replace("(", r"\(").replace(")", r"\)")):
        by_vectors(fragment, IMAGES | {"several": IMAGES["codes"]}, SHAPE)
