INSERT INTO swing_event (swing, event, time_s, method, stand_in, uncertainty_s)
SELECT swing, event, time_s, method, stand_in, uncertainty_s FROM incoming
