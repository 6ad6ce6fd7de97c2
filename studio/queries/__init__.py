"""What is asked of the tables, by what it is about; fetching through here is the access check.

`briefs`, `projects`, `plans` and `bench` answer with what a person may see; whoever passes a row
(a project, a plan, a bench tablet) instead of a person got it here before. A view asks no manager
of its own.
"""
