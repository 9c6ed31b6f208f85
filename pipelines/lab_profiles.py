"""The laboratories a store knows: each profile is kept with what was collected by it."""

from pipelines.collect.profile import Profile
from pipelines.roles import NOT_STATED
from pipelines.store import Store

PROFILES_KEY = "lab_profiles"


def keep_profile(store: Store, profile: Profile, *, who: str = NOT_STATED) -> None:
    """Keep a profile under its lab's name; a newer one of the same lab takes its place.

    ``who`` is a role, for the log.
    """
    kept = dict(_kept(store))
    kept[profile.lab.name] = profile.model_dump(mode="json", exclude_none=True)
    said: dict[str, object] = {"lab": profile.lab.name}
    with store.act("profile", who=who, details=said, silent_unchanged=True):
        store.set_setting(PROFILES_KEY, kept)


def stored_profiles(store: Store) -> list[Profile]:
    """Every kept profile, in order of lab."""
    kept = _kept(store)
    # From JSON, in which a tuple is a list: strictness was satisfied when the file was read.
    return [Profile.model_validate(kept[lab], strict=False) for lab in sorted(kept)]


def _kept(store: Store) -> dict[str, object]:
    kept = store.setting(PROFILES_KEY)
    return kept if isinstance(kept, dict) else {}
