"""The music itself: exact time, strokes, figures, grooves, surfaces, phrases. Standard library only."""
