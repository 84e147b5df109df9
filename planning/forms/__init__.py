"""Forms of the planning pages, one module per noun."""
