"""Mathematics on arrays, with no golf in it."""
