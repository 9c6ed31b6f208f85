from norms.cohort.value_reading import ValueReading
from norms.records.centile_readings import CentilePlace, MedianHandicap
from reports.value_sentences import value_sentences

READING = {
    "edition": "autumn",
    "club": "driver",
    "feature": "sway_travel",
    "value": 12.7,
    "golfers": 96,
    "given": {"female": 1.0, "age": 41.0},
    "confidence": 0.9,
    "median_low": 5.08,
    "median_high": 15.24,
    "handicap_low": -1.0,
    "handicap_high": 24.5,
}


def test_the_handicap_of_a_median_is_said_with_its_interval_and_for_whom():
    met = MedianHandicap(handicap=8.2, low=-1.0, high=12.5, open_low=True, open_high=False)
    said = value_sentences(ValueReading(**READING, medians=(met,), place=None), unit="in")
    assert "5.0 in, driver, women, age 41" in said[0]
    assert "at handicap 8.2 (90 % interval at most +1.0 to 12.5)" in said[1]
    assert "not what makes the handicap" in said[-1]


def test_a_value_beyond_all_medians_is_said_with_what_they_are():
    said = value_sentences(ValueReading(**READING, medians=(), place=None), unit="in")
    assert "+1.0 to 24.5 the medians lie between 2.0 in and 6.0 in" in said[1]


def test_the_place_at_a_handicap_has_its_count_and_interval():
    place = CentilePlace(
        name="sway_travel", value=12.7, handicap=-1.0, golfers=22, confidence=0.9, z=0.5,
        z_error=0.12, percentile=69.0, percentile_low=61.0, percentile_high=76.0,
    )  # fmt: skip
    said = value_sentences(ValueReading(**READING, medians=(), place=place), unit="in")
    assert "At handicap +1.0: more than 69 of 100 golfers (90 % interval 61 to 76)" in said[2]
    assert "22 golfers near" in said[2]


def test_a_handicap_without_support_is_answered_with_the_reason():
    place = CentilePlace(
        name="sway_travel", value=12.7, handicap=40.0, golfers=1, confidence=0.9, withheld="why."
    )
    said = value_sentences(ValueReading(**READING, medians=(), place=place), unit="in")
    assert said[2] == "At handicap 40.0: why."
