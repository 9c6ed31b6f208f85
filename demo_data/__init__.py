"""The invented academy: who its golfers are, its labs and their faults."""
