"""Files of the ASC CDL against OpenColorIO's readers and its CDLTransform."""

import numpy as np
import pytest

from tonemap.cdl import Cdl, apply_cdl
from tonemap.cdl_files import Correction, corrections_in, read_corrections, write_corrections

FIRST = Cdl((1.2, 1.0, 0.8), (0.05, -0.02, 0.0), (1.1, 0.9, 1.0), 0.8)
SECOND = Cdl((0.1, 2.5, 1.0 / 3.0), (1e-6, -1e-5, 0.25), (0.45454547, 1.0, 2.2), 1.7)
CORRECTIONS = [Correction("sh 010", FIRST, "a <note>"), Correction("sh&020", SECOND)]

# Written by hand after the schema of ASC CDL v1.01 as its name spaces and elements are published; also with the
# spelling SATNode and with descriptions in every place that allows them.
BY_HAND = """<?xml version="1.0" encoding="UTF-8"?>
<ColorDecisionList xmlns="urn:ASC:CDL:v1.01">
  <Description>a reel</Description>
  <ColorDecision>
    <MediaRef ref="file.dpx"/>
    <ColorCorrection id="cc0001">
      <InputDescription>display-referred</InputDescription>
      <SOPNode>
        <Description>warmer</Description>
        <Slope>1.2 1.0 0.8</Slope> <Offset>0.05 -0.02 0</Offset> <Power>1.1 0.9 1</Power>
      </SOPNode>
      <SATNode><Saturation> 0.8 </Saturation></SATNode>
    </ColorCorrection>
  </ColorDecision>
</ColorDecisionList>
"""


@pytest.mark.parametrize("ending", ["cdl", "ccc"])
def test_opencolorio_finds_every_correction_by_its_name(tmp_path, ocio, ending):
    path = tmp_path / f"all.{ending}"
    write_corrections(path, CORRECTIONS)
    for item in CORRECTIONS:
        theirs = ocio.CDLTransform.CreateFromFile(str(path), item.name)
        assert_same_numbers(theirs, item.cdl)


def test_opencolorio_reads_a_single_correction(tmp_path, ocio):
    for item in CORRECTIONS:
        path = tmp_path / f"{item.name}.cc"
        write_corrections(path, [item])
        assert_same_numbers(ocio.CDLTransform.CreateFromFile(str(path), ""), item.cdl)


@pytest.mark.parametrize("ending", ["cc", "ccc", "cdl"])
def test_a_file_acts_in_opencolorio_as_the_output_adjustments_act_here(tmp_path, ocio, ocio_apply, ending):
    path = tmp_path / f"acts.{ending}"
    write_corrections(path, CORRECTIONS[:1])
    transform = ocio.FileTransform(str(path))
    transform.setCDLStyle(ocio.CDL_ASC)
    signal = np.random.default_rng(1).uniform(-0.3, 1.5, (500, 3)).astype(np.float32)
    ours = apply_cdl(signal.astype(np.float64), read_corrections(path)[0].cdl)
    np.testing.assert_allclose(ours, ocio_apply(transform, signal), rtol=0, atol=4e-7)  # worst measured: 1.0e-7


@pytest.mark.parametrize("ending", ["Color", "ColorCorrectionCollection"])
def test_what_opencolorio_writes_is_read_here(ocio, ending):
    group = ocio.GroupTransform()
    group.appendTransform(
        ocio.CDLTransform(slope=[1.2, 1.0, 0.8], offset=[0.05, -0.02, 0.0], power=[1.1, 0.9, 1.0], sat=0.8)
    )
    name = "ColorCorrection" if ending == "Color" else ending
    (item,) = corrections_in(group.write(formatName=name, config=ocio.Config.CreateRaw()))
    assert item.cdl == FIRST


def test_a_list_written_by_hand_is_read_alike(tmp_path, ocio):
    (item,) = corrections_in(BY_HAND)
    assert (item.name, item.cdl, item.note) == ("cc0001", FIRST, "warmer")
    path = tmp_path / "hand.cdl"
    path.write_text(BY_HAND)
    assert_same_numbers(ocio.CDLTransform.CreateFromFile(str(path), "cc0001"), item.cdl)


def assert_same_numbers(theirs, cdl):
    """Compare in float32, which is what the engines compute with."""
    for found, expected in (
        (theirs.getSlope(), cdl.slope),
        (theirs.getOffset(), cdl.offset),
        (theirs.getPower(), cdl.power),
        ([theirs.getSat()], [cdl.saturation]),
    ):
        assert np.array_equal(np.array(found, np.float32), np.array(expected, np.float32))
