"""How a fill is made: readings, chains, routes and the teaching order. Standard library only."""
