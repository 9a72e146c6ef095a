"""The audit room: replays the ordered cuts, recounts every claim, rechecks the certificate."""
