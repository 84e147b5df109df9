"""What the planning pages read, one module per noun."""
