"""What people do with layouts: begin, change, choose, and what the server lays for them."""
