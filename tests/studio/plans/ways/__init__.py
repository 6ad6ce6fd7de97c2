"""How a class's plan shares its metal: which way it takes, what others come to, and the choice."""
