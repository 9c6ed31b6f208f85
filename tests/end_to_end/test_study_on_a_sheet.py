"""What a study found to go with ball speed stands beside the finding it is about."""

from pipelines.demo import STUDY
from pipelines.run_study import run_study
from pipelines.speed_words import speed_words
from pipelines.store import open_store


def test_the_newest_study_of_a_club_is_kept_in_words_for_sheets(academy) -> None:
    with open_store(academy.store) as store:
        assert speed_words(store, "iron 7") == {}
        study, _ = run_study(store, STUDY)
        told = speed_words(store, "driver")
    holding = {
        model.feature
        for model in study.models
        for effect in (model.within, model.between)
        if effect.adjusted_p is not None and effect.adjusted_p <= study.plan.level
    }
    assert holding
    assert set(told) == holding
    assert all("not said to be a cause" in sentence for sentence in told.values())
