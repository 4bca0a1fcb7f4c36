"""Forms of people: they check what was typed and keep it; what follows is for the verbs."""
