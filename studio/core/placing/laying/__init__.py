"""First plans, without compiled code: pieces laid one after the other where there is room."""
