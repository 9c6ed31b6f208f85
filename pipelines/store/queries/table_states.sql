SELECT name, rows, digest FROM table_state
