"""The only door to the database: takes and returns records."""
