"""What goes into a quote: costs split to the cent, what each project uses, rules in words."""
