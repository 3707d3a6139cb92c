"""A take: onsets, matching to the phrase, which surface, the report."""
