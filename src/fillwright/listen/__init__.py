"""A student's take: onsets, alignment with the written phrase, the report."""
