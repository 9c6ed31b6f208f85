import pytest

from norms.errors import NormsError
from pipelines.coaching_notes import read_coaching_notes

GOOD = """
[[note]]
feature = "sway_travel"
side = "below"
text = "Drill 4 of our book."

[[note]]
feature = "sway_travel"
side = "above"
text = "See the physiotherapist's sheet."
"""


def test_notes_are_read_as_they_stand(tmp_path):
    file = tmp_path / "notes.toml"
    file.write_text(GOOD)
    notes = read_coaching_notes(file)
    assert [(note.feature, note.side) for note in notes] == [
        ("sway_travel", "below"),
        ("sway_travel", "above"),
    ]
    assert notes[0].text == "Drill 4 of our book."


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[[note]]\nfeature = 'sway'\nside = 'below'\ntext = 'x'", "'sway' is no feature"),
        ("[[note]]\nfeature = 'sway_top'\nside = 'left'\ntext = 'x'", "note.0.side"),
        ("[[note]]\nfeature = 'sway_top'\nside = 'below'\ntext = ''", "note.0.text"),
        ("[[note]]\nfeature = 'sway_top'\nside = 'below'\ntext = 'x'\ncolour = 'red'", "colour"),
        (GOOD + GOOD, "two notes for sway_travel below"),
        ("", "note"),
        ("[[note", "is not a TOML file"),
    ],
)
def test_a_faulty_file_is_refused_in_one_line(tmp_path, text, said):
    file = tmp_path / "notes.toml"
    file.write_text(text)
    with pytest.raises(NormsError) as refusal:
        read_coaching_notes(file)
    assert said in refusal.value.message
    assert str(file) in refusal.value.message
    assert "\n" not in refusal.value.message


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(NormsError, match="cannot be read"):
        read_coaching_notes(tmp_path / "none.toml")
