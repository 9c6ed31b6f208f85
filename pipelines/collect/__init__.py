"""From a capture file and a lab's profile to a Capture record."""
