"""What is known: pure science on arrays and records, with no file, database, figure or clock."""
