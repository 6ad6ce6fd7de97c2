"""How numbers are written in each language, where Django has it otherwise."""
