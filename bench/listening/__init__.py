"""How well takes are heard and matched: takes with known truth, and what is measured on them."""
