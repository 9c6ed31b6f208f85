UPDATE collect_run SET finished_at = ? WHERE run = ?
