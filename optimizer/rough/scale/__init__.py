"""How large and how heavy the piece is: units, known distances, the balance."""
