"""Many golfers to norms: golfer means, bands, editions."""
