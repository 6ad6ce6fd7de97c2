"""Queues that Django's tasks interface can be pointed at, beside the default one."""
