"""One capture to one swing: conditioning, pelvis centre, events, phases, features."""
