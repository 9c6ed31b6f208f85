"""Pictures drawn from records; nothing is computed here but layout."""
