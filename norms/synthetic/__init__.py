"""Swings with known truth, for the demo, the tests, calibration and benchmarks alike."""
