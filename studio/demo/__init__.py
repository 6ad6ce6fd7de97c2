"""The demo: Saltmarsh Harbour School, an invented school with an invented class.

Everything is done through the same steps that people take in the browser, on the days of a
term that ends around today, so that every page has something true to show. README's picture,
`cut_plan.png`, is the page of plan 2 as the teacher sees it in a window 1200 points wide.
"""
