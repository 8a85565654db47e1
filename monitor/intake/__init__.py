"""Everything that brings readings in: payload rules, subscriber, embedded broker, logger files."""
