SELECT table_name FROM duckdb_tables() WHERE database_name = current_database()
