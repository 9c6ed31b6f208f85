import pytest

from norms.errors import ProfileRefused
from norms.records import LabAxes
from pipelines.collect.profile import load_profile


def refusal(path) -> str:
    with pytest.raises(ProfileRefused) as caught:
        load_profile(path)
    assert "\n" not in caught.value.message
    assert path.name in caught.value.message
    return caught.value.message


def test_a_valid_profile_gives_axes_conditioning_and_scale(north_bay):
    profile = load_profile(north_bay)
    assert profile.lab_axes() == LabAxes(source="declared", up=(0, 0, 1), target=(1, 0, 0))
    assert profile.conditioning_choice().cutoff_hz == 12
    assert profile.cm_per_unit == 0.1
    assert profile.rate.hz == 240


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('length = "mm"', 'length = "furlong"', ["[units] length", "'furlong'", "'mm'", "'in'"]),
        ("hz = 240", "hz = -240", ["[rate] hz", "-240", "greater than 0"]),
        ("hz = 240", "hz = nan", ["[rate] hz"]),
        ("hz = 240", 'hz = "240"', ["[rate] hz", "'240'", "number"]),
        ("hz = 240", "Hz = 240", ["[rate] Hz", "unknown key", "allowed: hz"]),
        ('[lab]\nname = "North bay"', "", ["[lab]", "missing"]),
        ("left_asis =", "left_hip_bone =", ["unknown role left_hip_bone", "left_asis"]),
        ('"RASI"', '"LASI"', ["label 'LASI'", "left_asis and right_asis"]),
        ('left_asis = "LASI"\n', "", ["no complete set of pelvis points", "pelvis_centre"]),
        ('"declared"', '"guessed"', ["[axes] source", "'declared' or 'feet_line'"]),
        ('target = "+x"', 'target = "x"', ["[axes] target", "'x'", "'+x'"]),
        ("{golfer}_{date}", "{player}_{date}", ["unknown field {player}", "{golfer}"]),
        ("{golfer}_{date}", "{golfer}{date}", ["character between {golfer} and {date}"]),
        ("cutoff_hz = 12", "cutoff_hz = 0", ["[conditioning] cutoff_hz", "greater than 0"]),
        ('source = "club"', 'source = "ball"', ["[events] source", "'club' or 'hands'"]),
        ("[units]", "[units", ["not valid TOML"]),
    ],
)
def test_a_fault_is_named_with_key_and_what_is_allowed(captures, tmp_path, old, new, words):
    assert old in captures.NORTH_BAY
    message = refusal(captures.write_profile(tmp_path, captures.NORTH_BAY.replace(old, new, 1)))
    for word in words:
        assert word in message


def test_every_fault_is_named_at_once(captures, tmp_path):
    text = captures.NORTH_BAY.replace('"mm"', '"ell"').replace("hz = 240", "hz = 0")
    message = refusal(captures.write_profile(tmp_path, text))
    assert "[units]" in message
    assert "[rate]" in message


@pytest.mark.parametrize(
    ("target", "up", "ball", "mirrored"),
    [
        # ball = target × up in a right-handed frame, worked by hand from x × y = z
        ("+x", "+z", "-y", False),
        ("-x", "+z", "+y", False),
        ("+x", "+y", "+z", False),
        ("+z", "+y", "-x", False),
        ("+x", "+z", "+y", True),
    ],
)
def test_consistent_axes_are_accepted(captures, tmp_path, target, up, ball, mirrored):
    text = axes_text(captures, target, up, ball, mirrored)
    axes = load_profile(captures.write_profile(tmp_path, text)).lab_axes()
    assert axes.mirrored is mirrored


def test_a_ball_axis_of_the_wrong_hand_is_refused_with_the_way_out(captures, tmp_path):
    text = axes_text(captures, "+x", "+z", "+y", False)
    message = refusal(captures.write_profile(tmp_path, text))
    assert "they fit only with mirrored = true" in message
    text = axes_text(captures, "+x", "+z", "-y", True)
    message = refusal(captures.write_profile(tmp_path, text))
    assert "they fit only without mirrored = true" in message


def test_axes_that_do_not_span_space_are_refused(captures, tmp_path):
    assert "lie on one axis" in refusal(
        captures.write_profile(tmp_path, axes_text(captures, "+x", "-x", "+y", False))
    )
    assert "in a right-handed frame it is -y" in refusal(
        captures.write_profile(tmp_path, axes_text(captures, "+x", "+z", "-x", False))
    )


def test_the_feet_line_needs_feet_and_takes_no_target(captures, tmp_path):
    text = axes_text(captures, "+x", "+z", "-y", False)
    text = text.replace('source = "declared"\ntarget = "+x"', 'source = "feet_line"')
    assert "unknown key; allowed: source, up" in refusal(captures.write_profile(tmp_path, text))
    text = text.replace('ball = "-y"\n', "").replace("mirrored = false\n", "")
    axes = load_profile(captures.write_profile(tmp_path, text)).lab_axes()
    assert (axes.source, axes.target) == ("feet_line", None)
    footless = text.replace('left_foot = "LTOE"\n', "")
    assert "needs left_foot and right_foot" in refusal(captures.write_profile(tmp_path, footless))


def test_a_profile_without_any_source_of_events_is_refused(captures, tmp_path):
    text = "\n".join(
        line
        for line in captures.NORTH_BAY.splitlines()
        if "hand" not in line and "CLUB" not in line
    )
    assert "nothing to find the events from" in refusal(captures.write_profile(tmp_path, text))
    named = text.replace('source = "club"', 'start = "S"\ntop = "T"\nimpact = "I"')
    profile = load_profile(captures.write_profile(tmp_path, named))
    assert profile.events.labels() == {"start": "S", "top": "T", "impact": "I"}


def test_a_profile_that_is_not_there_is_refused(tmp_path):
    told = refusal(tmp_path / "none.toml")
    assert "none.toml: cannot be read (No such file or directory): check the path" in told
    assert "norms profile" in told


def axes_text(captures, target, up, ball, mirrored) -> str:
    section = captures.NORTH_BAY[
        captures.NORTH_BAY.index("[axes]") : captures.NORTH_BAY.index("[rate]")
    ]
    new = (
        f'[axes]\nsource = "declared"\ntarget = "{target}"\nup = "{up}"\nball = "{ball}"\n'
        f"mirrored = {str(mirrored).lower()}\n\n"
    )
    return captures.NORTH_BAY.replace(section, new)
