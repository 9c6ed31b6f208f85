SELECT table_name, column_name, data_type FROM duckdb_columns()
WHERE database_name = current_database() AND NOT internal
ORDER BY table_name, column_index
