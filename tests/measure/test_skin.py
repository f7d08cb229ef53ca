"""The proposal of skin: on published reflectances, on shaded spheres, and on the demo scene."""

import numpy as np
import pytest

from demo.make_scene import PATCHES
from demo.scene import workshop
from demo.scene.camera import camera
from tonemap.colorimetry import PRIMARIES, matrix_to_xyz
from tonemap.measure.patches import Patch
from tonemap.measure.skin import is_skin_colour, propose_skin

# The skins of every set of reflectances that colour-science ships; the last four are measured people.
SKINS = [
    ("ISO 17321-1", "dark skin"),
    ("ISO 17321-1", "light skin"),
    ("BabelColor Average", "dark skin"),
    ("BabelColor Average", "light skin"),
    ("ColorChecker N Ohta", "dark skin"),
    ("ColorChecker N Ohta", "light skin"),
    ("PMC", "Caucasian"),
    ("PMC", "Oriental"),
    ("PMC", "South Asian"),
    ("PMC", "African"),
]
WHITES = (25.0, 50.0, 101.5, 203.0, 406.0)  # cd/m2 of a perfect white: three stops below reference white to one above


@pytest.fixture(scope="module")
def reflectance(colour):
    """Return a function that gives the BT.2020 light of a reflectance under D65, a perfect white being 1."""
    shape = colour.SpectralShape(380, 780, 5)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape).values
    daylight = colour.SDS_ILLUMINANTS["D65"].copy().align(shape).values[:, np.newaxis] * observer
    from_xyz = np.linalg.inv(matrix_to_xyz(PRIMARIES["bt2020"]))

    def light(chart, name):
        spectrum = colour.SDS_COLOURCHECKERS[chart][name].copy().align(shape).values
        return np.maximum(from_xyz @ (spectrum @ daylight / daylight[:, 1].sum()), 0.0)

    return light


def solids(names: tuple[str, ...]) -> np.ndarray:
    """Return where the camera of frame 0 sees solids of the demo scene whose name ends so, 480 x 270."""
    room, view = workshop.build(0.0), camera(0.0)
    rows, columns = (part.ravel() for part in np.indices((270, 480), np.float32))
    rays = view.rays((columns + 0.5) / 480, (rows + 0.5) / 270, 16 / 9)
    nearest, seen = np.full(rows.shape, np.inf, np.float32), np.zeros(rows.shape, bool)
    for solid in room.near:
        index, reached = solid.march(view.place, rays, 0.001)
        closer = reached < nearest[index]
        nearest[index[closer]] = reached[closer]
        seen[index[closer]] = solid.name.endswith(names)
    seen[workshop.bench_hit(view.place, rays) < nearest] = "bench" in names
    return seen.reshape(270, 480)


@pytest.fixture(scope="module")
def proposal(demo_frame):
    return propose_skin(demo_frame)


def test_every_published_skin_has_the_colour_of_skin_at_every_exposure(reflectance):
    """All 50, from 3 to 230 cd/m2 of skin."""
    found = {(*skin, white): bool(is_skin_colour(white * reflectance(*skin))) for skin in SKINS for white in WHITES}
    assert len(found) == 50
    assert [key for key, skin in found.items() if not skin] == []


def test_few_other_published_colours_have_the_colour_of_skin(reflectance, colour):
    """Measured: at reference white, of 70 other colours in three charts, only the carrot does."""
    others = [
        (chart, name)
        for chart in ("ISO 17321-1", "BabelColor Average", "PMC")
        for name in colour.SDS_COLOURCHECKERS[chart]
        if (chart, name) not in SKINS
    ]
    assert len(others) == 70
    assert [name for chart, name in others if is_skin_colour(203.0 * reflectance(chart, name))] == ["Carrot"]


@pytest.mark.parametrize("white", [50.0, 203.0])
@pytest.mark.parametrize("name", ["Caucasian", "Oriental", "South Asian", "African"])
@pytest.mark.parametrize("radius", [20.0, 60.0])
def test_shaded_sphere_of_skin_is_proposed(reflectance, name, white, radius):
    """A sphere before grey, lit from the upper left, with the sheen of skin. Measured: 67 to 98 % of it is found."""
    rows, columns = np.indices((180, 320))
    x, y = (columns - 160) / radius, (rows - 90) / radius
    inside = x**2 + y**2 < 1.0
    z = np.sqrt(np.maximum(1.0 - x**2 - y**2, 0.0))
    facing = np.clip(-0.4 * x - 0.5 * y + 0.77 * z, 0.0, 1.0)
    half = np.clip(-0.21 * x - 0.27 * y + 0.94 * z, 0.0, 1.0)
    body = reflectance("PMC", name) * (0.15 + 0.85 * facing[..., np.newaxis])
    sheen = 0.12 * half[..., np.newaxis] ** 8
    light = white * np.where(inside[..., np.newaxis], body + sheen, 0.1)
    found = propose_skin(light)
    assert (found.mask & inside).sum() / inside.sum() > 0.6
    assert (found.mask & ~inside).sum() / inside.sum() < 0.02
    region = found.regions[0].patch("skin 1").mask(180, 320)
    assert (region & inside).sum() / region.sum() > 0.95


def test_flat_skin_colour_and_an_orange_sky_are_not_proposed(reflectance):
    """A gradient of a glow grows more saturated as it grows brighter; flat colour has no shading."""
    flat = np.ones((90, 160, 3)) * 203.0 * reflectance("PMC", "African")
    assert not propose_skin(flat).mask.any()
    height = np.linspace(0.0, 1.0, 90)[:, np.newaxis, np.newaxis]
    sky = np.ones((1, 160, 1)) * (np.array([20.0, 16.0, 15.0]) + height**2 * np.array([160.0, 80.0, 40.0]))
    assert is_skin_colour(sky).mean() > 0.3
    assert propose_skin(sky).mask.mean() < 0.02


def test_the_demo_scenes_three_faces_are_the_three_largest_regions(proposal):
    """Patches of skin_dark, skin_medium and skin_light, each within its own region."""
    assert len(proposal.regions) >= 3
    found = set()
    for number, region in enumerate(proposal.regions[:3]):
        own = region.patch(f"skin {number}").mask(270, 480)
        assert (own & solids(("head",))).sum() / own.sum() > 0.9
        for name in ("skin_dark", "skin_medium", "skin_light"):
            left, top, right, bottom = PATCHES[name]
            if region.left < (left + right) / 2 < region.right and region.top < (top + bottom) / 2 < region.bottom:
                found.add(name)
    assert found == {"skin_dark", "skin_medium", "skin_light"}


def test_recall_and_precision_on_the_demo_scene(proposal):
    """Measured at 480 x 270: recall 0.82, precision 0.78. The limits were set on this scene: a check of change."""
    truth = solids(("head", "hands"))
    hit = (proposal.mask & truth).sum()
    assert hit / truth.sum() > 0.78
    assert hit / proposal.mask.sum() > 0.72


def test_each_face_of_the_demo_scene_is_mostly_found(proposal):
    """Measured: dark 0.82, medium 0.82, light 0.92 of the head."""
    for person in ("left.head", "middle.head", "right.head"):
        head = solids((person,))
        assert (proposal.mask & head).sum() / head.sum() > 0.75, person


def test_bowl_sky_and_wood_of_the_demo_scene_are_left_alone(proposal):
    """Measured: of the bowl and the ruby vase nothing, of the sky patch nothing, of the wooden bench top 1 %."""
    assert not (proposal.mask & solids(("bowl", "ruby"))).any()
    assert not (proposal.mask & Patch.rectangle("sky", "sky", *PATCHES["sky"]).mask(270, 480)).any()
    bench = solids(("bench",))
    assert bench.sum() > 10000
    assert (proposal.mask & bench).sum() / bench.sum() < 0.02
    window = Patch.rectangle("window", "sky", 0.23, 0.0, 0.70, 0.52).mask(270, 480)
    behind = window & ~solids(("head", "hair", "scarf", "clothes"))
    assert (proposal.mask & behind).sum() / behind.sum() < 0.02


def test_it_is_always_called_a_proposal(proposal):
    assert proposal.sentence.endswith("may be skin; this is a proposal: confirm it, or mark the skin by hand")
    nothing = propose_skin(np.zeros((9, 16, 3)))
    assert (nothing.regions, nothing.mask.any()) == ((), False)
    assert nothing.sentence == ("no region looks like skin; this is a proposal: confirm it, or mark the skin by hand")


def test_mask_has_the_pictures_own_size(demo_frame):
    large = demo_frame.repeat(2, axis=0).repeat(2, axis=1)[:539, :959]
    found = propose_skin(large)
    assert found.mask.shape == (539, 959)
    assert found.mask.mean() == pytest.approx(propose_skin(demo_frame).mask.mean(), rel=0.15)
