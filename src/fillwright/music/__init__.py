"""What is played: exact time, strokes, figures, grooves, surfaces, phrases. Standard library only."""
