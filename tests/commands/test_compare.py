"""trimbench compare: the words that spell renditions out, and what it says; tests/viewer has the picture itself."""

from tonemap.media.oiio import read_picture


def test_the_starters_are_compared_when_nothing_is_spelled_out(trimbench, master, tmp_path):
    output = tmp_path / "compare.png"
    outcome = trimbench("compare", master, "-o", output, "--width", 1200)
    assert outcome.status == 0, outcome.err
    assert "master.png beside BT.2390, BT.2446 A, BT.2446 C, Log roll-off; engine: cpu (" in outcome.out
    assert read_picture(output).picture.columns == 1200


def test_each_tone_starts_a_rendition_and_what_follows_belongs_to_it(trimbench, master, tmp_path):
    words = [
        *("--tone", "knee", "--set", "tone.start=30", "--name", "early"),
        *("--tone", "knee", "--gamut", "gamut_clip"),
        *("--tone", "knee", "--set", "input.exposure=0.5"),
    ]
    outcome = trimbench("compare", master, "-o", tmp_path / "compare.tif", "--width", 800, *words)
    assert outcome.status == 0, outcome.err
    assert "beside early, Knee 1, Knee 2; engine" in outcome.out


def test_a_wrong_width_or_name_is_one_sentence(trimbench, master, tmp_path):
    for words in (["--width", "10"], ["-o", tmp_path / "compare.jpg"], ["--window", "0"]):
        outcome = trimbench("compare", master, "-o", tmp_path / "compare.png", *words)
        assert outcome.status == 2
        assert outcome.err.count("\n") == 1
        assert list(tmp_path.glob("compare.*")) == []


def test_the_master_is_never_overwritten(trimbench, master):
    before = master.read_bytes()
    for verb in ("compare", "render"):
        outcome = trimbench(verb, master, "-o", master.parent / "." / master.name, "--overwrite")
        said = f"trimbench: {master}: this is the master, which is never overwritten; choose another name\n"
        assert (outcome.status, outcome.err) == (2, said)
    assert master.read_bytes() == before


def test_a_movie_in_the_place_of_a_still_is_named_as_one(trimbench, tmp_path):
    movie = tmp_path / "reel.mov"
    movie.write_bytes(b"\0\0\0\x14ftypqt  \0\0\0\0qt  ")
    outcome = trimbench("compare", movie, "-o", tmp_path / "compare.png")
    said = "the name is that of a movie, and a still picture is asked for; export the frame as a still"
    assert (outcome.status, outcome.err) == (2, f"trimbench: {movie}: {said}\n")
