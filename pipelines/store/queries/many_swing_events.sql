SELECT swing, event, time_s, method, stand_in, uncertainty_s, confidence
FROM swing_event WHERE swing IN (SELECT unnest(?::VARCHAR[]))
