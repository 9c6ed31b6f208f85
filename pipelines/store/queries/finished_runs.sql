SELECT count(*) FROM collect_run WHERE finished_at IS NOT NULL
