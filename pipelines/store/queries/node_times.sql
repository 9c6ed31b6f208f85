SELECT code, node_times_s FROM swing
