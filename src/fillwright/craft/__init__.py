"""Making of fills: readings, chains, routes and the teaching order. Standard library only."""
