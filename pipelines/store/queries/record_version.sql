INSERT INTO schema_version (version, name, applied_at, duckdb_version, storage_version)
SELECT ?, ?, ?, ?, coalesce(tags['storage_version'], 'in memory')
FROM duckdb_databases() WHERE database_name = current_database()
