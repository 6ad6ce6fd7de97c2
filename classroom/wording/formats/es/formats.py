"""Spanish numbers with a decimal point, as on the rulers, drills and displays of the workshop.

Both signs are good Spanish; one of them on all papers keeps 1.02 mm and 1.43 from looking like
two kinds of number.
"""

DECIMAL_SEPARATOR = "."
THOUSAND_SEPARATOR = "\u00a0"
