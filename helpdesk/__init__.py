"""The desk: people, cases, pages, mail, episodes and search around the engine."""
