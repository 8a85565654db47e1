"""Everything that reaches a person: wording, outbox policy, channels, sounder, heartbeat."""
