INSERT INTO swing_event (swing, event, time_s, method, stand_in, uncertainty_s, confidence)
SELECT swing, event, time_s, method, stand_in, uncertainty_s, confidence FROM incoming
