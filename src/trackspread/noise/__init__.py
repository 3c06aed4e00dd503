"""How errors wander, and how much correlated values are worth."""
